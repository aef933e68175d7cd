# energies of civil days of 23 and 24 h, named by their end, placed along time
cp logger.record e.record
printf 'time,Roof.export[kWh/interval]\n2026-03-29,9.6\n2026-03-30,9.2\n2026-03-31,9.6\n' >e.csv
"$METERBOOK" --database e.record enter --length day --stamp end e.csv
sqlite3 e.record "SELECT date(day * 86400, 'unixepoch'), export, estimated, unobserved, rows, expected FROM day; SELECT DISTINCT export, unobserved, how FROM interval WHERE meter = 1"
