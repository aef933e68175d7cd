# import and export from files of their own meet in one row
cp logger.record e.record
printf 'time,House.import[Wh/interval]\n2026-05-01 10:00,100\n2026-05-01 10:15,200\n' >i.csv
printf 'time,2.export[Wh/interval]\n2026-05-01 10:00,0\n2026-05-01 10:15,50\n' >e.csv
for f in i e i e; do "$METERBOOK" --database e.record enter $f.csv; done
sqlite3 e.record "SELECT import, export, how FROM interval WHERE how > 3"
