command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
cp gross.record meterless.record && cp gross.record-wal meterless.record-wal
sqlite3 meterless.record "UPDATE meter_setting SET role = 'weather'"
"$METERBOOK" --database meterless.record month 2026-05
