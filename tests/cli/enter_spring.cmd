# an hour that the clock passed over
cp logger.record e.record
printf 'time,House.import[Wh]\n2026-03-29 01:45,1\n2026-03-29 02:00,2\n' >e.csv
"$METERBOOK" --database e.record enter e.csv
