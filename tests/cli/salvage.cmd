# one page of zeros in the middle: its intervals are filled with the energy that their days know
# (how many they are is SQLite's business: those figures are masked)
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
mkdir -p own && cp household.record own/old.record && cp household.record-wal own/old.record-wal
sqlite3 own/old.record 'PRAGMA wal_checkpoint(TRUNCATE)' >/dev/null
sqlite3 own/old.record "INSERT INTO factor VALUES(1, 1, 1, 1, 1, 1, 1, 0)"
"$METERBOOK" --database own/old.record --format csv month 2026-03 2>/dev/null >before
dd if=/dev/zero of=own/old.record bs=4096 seek=61 count=1 conv=notrunc 2>/dev/null
mask() { sed -E '/interval |filled$/ { s/[0-9]+/N/g; s/ +/ /g; }'; }
"$METERBOOK" --now 2026-03-30T12:07:07Z salvage own/old.record own/new.record | mask
"$METERBOOK" --database own/new.record --format csv month 2026-03 2>/dev/null >after
cut -d, -f1-8 before >before8 && cut -d, -f1-8 after >after8 && diff before8 after8 && echo "the same days"
sqlite3 own/new.record 'PRAGMA quick_check; SELECT text FROM event'
"$METERBOOK" --format csv salvage own/old.record own/second.record | tr -d '\r' | tail -n 3 | mask | sed 's/filled$/full/'
"$METERBOOK" --format json --now 2026-03-30T12:07:07Z salvage own/old.record own/third.record | head -n 9
