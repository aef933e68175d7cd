# pages in the middle are noise
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
cp household.record damaged.record && cp household.record-wal damaged.record-wal
sqlite3 damaged.record 'PRAGMA wal_checkpoint(TRUNCATE)' >/dev/null
head -c 409600 /dev/zero | tr "\0" x | dd of=damaged.record bs=4096 seek=40 conv=notrunc 2>/dev/null
for day in 01 05 10 15 20 25; do
    "$METERBOOK" --database damaged.record --format csv --by hour day 2026-03-$day >damaged.out 2>damaged.err || { echo "code $?"; cat damaged.err; break; }
done
