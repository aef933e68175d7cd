# not while somebody has the record open
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
mkdir -p own && rm -f own/ask own/said
cp household.record own/used.record && cp household.record-wal own/used.record-wal
mkfifo own/ask own/said
sqlite3 own/used.record <own/ask >own/said &
exec 3>own/ask 4<own/said
echo 'SELECT count(*) FROM run;' >&3
read -r runs <&4 && echo "$runs runs"
"$METERBOOK" salvage own/used.record own/freed.record; echo "code $?"
exec 3>&-
wait
"$METERBOOK" salvage own/used.record own/freed.record >/dev/null; echo "code $?"
