# another user may not read it
[ "$(id -u)" = 0 ] || { echo "needs root to become another user" >&2; exit 77; }
command -v setpriv >/dev/null || { echo "needs setpriv" >&2; exit 77; }
mkdir -p -m 777 gcov && export GCOV_PREFIX="$PWD/gcov" # where a build that measures coverage may write
cp "$METERBOOK" ../meterbook && chmod 755 ../meterbook .. .
cp gross.record secret.record && chmod 600 secret.record
setpriv --reuid=65534 --clear-groups ../meterbook --database secret.record day
