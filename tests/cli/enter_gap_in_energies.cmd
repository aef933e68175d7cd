# where the file has no line nothing is known: no row, or part of one
cp logger.record e.record
printf 'time,Roof.export[Wh/interval]\n2026-05-01T10:00Z,1\n2026-05-01T10:05Z,2\n2026-05-01T10:25Z,4\n2026-05-01T10:30Z,8\n2026-05-01T11:35Z,16\n' >e.csv
"$METERBOOK" --database e.record enter e.csv
sqlite3 e.record "SELECT start_utc, export_kwh, unobserved_s FROM interval_kwh WHERE how > 3"
