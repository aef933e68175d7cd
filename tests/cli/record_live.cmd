# while another program is in the middle of writing, only what it has committed counts
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
cp gross.record live.record && cp gross.record-wal live.record-wal
sqlite3 live.record <<'END'
BEGIN IMMEDIATE;
DELETE FROM interval;
.shell "$METERBOOK" --database live.record --format csv month 2026-05
COMMIT;
.shell "$METERBOOK" --database live.record --format csv month 2026-05
END
