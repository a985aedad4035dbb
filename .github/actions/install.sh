# install.sh DIR
# Installs reviewbot as it lies beside this file, and nothing that is not locked by its hash, into a
# new environment DIR; the command is DIR/bin/reviewbot.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
python -m venv "$1"
pip() { "$1/bin/python" -m pip --disable-pip-version-check --quiet install "${@:2}"; }
pip "$1" --only-binary :all: --require-hashes \
  -r "$root/.github/actions/requirements.txt" -r "$root/requirements-build.txt"
pip "$1" --no-deps --no-build-isolation "$root"
