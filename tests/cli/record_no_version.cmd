command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
cp gross.record versionless.record && cp gross.record-wal versionless.record-wal
sqlite3 versionless.record 'PRAGMA user_version = 0'
"$METERBOOK" --database versionless.record month 2026-05
