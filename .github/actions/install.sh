# Installs reviewbot as it lies beside this file, and nothing that is not locked by its hash. In an
# environment of its own; says where as the step's output `bin`.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
environment="$RUNNER_TEMP/reviewbot-environment"
python -m venv "$environment"
pip() { "$environment/bin/python" -m pip --disable-pip-version-check --quiet install "$@"; }
pip --only-binary :all: --require-hashes \
  -r "$root/.github/actions/requirements.txt" -r "$root/requirements-build.txt"
pip --no-deps --no-build-isolation "$root"
echo "bin=$environment/bin" >>"$GITHUB_OUTPUT"
