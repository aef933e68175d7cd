# what is in the log only, not yet in the main file, counts too
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
cp gross.record log.record && cp gross.record-wal log.record-wal
sqlite3 log.record <<'END'
PRAGMA wal_autocheckpoint = 0;
DELETE FROM interval WHERE meter = 1;
.shell "$METERBOOK" --database log.record --format csv month 2026-05 2>/dev/null
END
