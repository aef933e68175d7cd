command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
cp gross.record zoneless.record && cp gross.record-wal zoneless.record-wal
sqlite3 zoneless.record "UPDATE setting SET zone = 'Asia/Nowhere'"
"$METERBOOK" --database zoneless.record month 2026-05
