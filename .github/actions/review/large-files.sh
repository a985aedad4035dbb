# Brings the large files that two commits' meshes stand for, from the repository that the job runs
# in and from nowhere else: what a pull request's own .lfsconfig says of servers is overridden. The
# token goes into git's environment, so that no process list shows it, and to that one server.
set -euo pipefail
command -v git-lfs >/dev/null || exit 0
meshes='*.obj,*.gltf,*.glb,*.bin,*.fbx,*.usd,*.usda,*.usdc,*.usdz,*.ply,*.stl'
server="$GITHUB_SERVER_URL/$GITHUB_REPOSITORY.git/info/lfs"
since=$(git merge-base "$BASE" "$HEAD" || echo "$BASE")
if [ -n "${TOKEN:-}" ]; then
  GIT_CONFIG_VALUE_0="authorization: basic $(printf 'x-access-token:%s' "$TOKEN" | base64 -w0)"
  export GIT_CONFIG_VALUE_0 GIT_CONFIG_COUNT=1
  export GIT_CONFIG_KEY_0="http.$GITHUB_SERVER_URL/.extraheader"
  unset TOKEN
fi
export GIT_TERMINAL_PROMPT=0
git -c "lfs.url=$server" lfs fetch --include="$meshes" origin "$since" "$HEAD" \
  || echo "::warning::Some large files could not be brought; the review says which."
