# Sourced by the scripts beside it: sets PYTHON to the first interpreter that can set Fanlight up.
# An interpreter that cannot is still passed on, since bootstrap.py says what to do about it.
PYTHON=""
for candidate in python3 python3.13 python3.12 python3.11 python; do
    if "$candidate" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
        PYTHON=$candidate
        break
    fi
done
if [ -z "$PYTHON" ]; then
    for candidate in python3 python; do
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 8))' >/dev/null 2>&1; then
            PYTHON=$candidate
            break
        fi
    done
fi
if [ -z "$PYTHON" ]; then
    echo "Fanlight needs Python 3.11 or newer; none was found. On Debian 12 or newer, as root, run:" >&2
    echo "    apt-get update && apt-get install -y python3 python3-venv" >&2
    exit 1
fi
