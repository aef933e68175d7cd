# a damaged page: what can be done is said
cp household.record dam.record
size=$(wc -c <dam.record)
head -c 8192 /dev/zero | tr '\0' '\125' | dd of=dam.record bs=4096 seek=$((size / 8192)) conv=notrunc 2>/dev/null
"$METERBOOK" --database dam.record --now 2026-03-30T12:07:07Z validate 2026-03 >/dev/null
