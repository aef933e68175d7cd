# the same plant without its weather station: beside its own clear days
mkdir -p clear && cp invented/* clear/ 2>/dev/null
if ! command -v sqlite3 >/dev/null; then echo "no sqlite3" >&2; exit 77; fi
sqlite3 clear/record.db "UPDATE momentary SET irradiance = NULL, module_temperature = NULL, ambient_temperature = NULL WHERE irradiance IS NOT NULL"
"$METERBOOK" -c clear/meterbook.conf --now 2025-03-01T09:00:00Z yield 2024
rm -rf clear
