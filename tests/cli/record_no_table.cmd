command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
cp gross.record tableless.record && cp gross.record-wal tableless.record-wal
sqlite3 tableless.record 'DROP TABLE day'
"$METERBOOK" --database tableless.record month 2026-05
