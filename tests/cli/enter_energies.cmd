# decimal commas, semicolons, a byte-order mark and CR LF; twice the same changes nothing
cp logger.record e.record
printf '\357\273\277time;House.import[kWh/interval];"House.export[Wh/interval]"\r\n03.05.2026 00:00;0,250;10\r\n3.5.2026 00:15;1,5;0\r\n\r\n03.05.2026 00:30;"0,125";2,5\r\n' >e.csv
enter() { "$METERBOOK" --database e.record enter --separator semicolon --decimal comma --date-order dmy "$@" e.csv; }
enter --dry-run && enter && enter
sqlite3 e.record "SELECT start_utc, name, import_kwh, export_kwh, estimated_kwh, unobserved_s, how FROM interval_kwh WHERE how > 3;
    SELECT day, import, export, rows FROM day; SELECT counter, from_ms, first, to_ms, last, began, ended FROM run WHERE began = 'entered'"
