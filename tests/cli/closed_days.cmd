# a day says the same closed and open: without its day rows the intervals answer
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
"$METERBOOK" --database household.record --format json month 2026-03 >closed.json
cp household.record open.record && cp household.record-wal open.record-wal
sqlite3 open.record 'DELETE FROM day'
"$METERBOOK" --database open.record --format json month 2026-03 >open.json
cmp closed.json open.json
