# the hour that comes twice: its passes are told apart by order
cp logger.record e.record
{ echo 'time,House.import[Wh]'
  v=100
  for t in 01:30 01:45 02:00 02:15 02:30 02:45 02:00 02:15 02:30 02:45 03:00 03:15; do
      v=$((v + 1)); echo "2025-10-26 $t,$v"
  done; } >e.csv
"$METERBOOK" --database e.record enter e.csv
sqlite3 e.record "SELECT start_utc, import_kwh FROM interval_kwh WHERE how > 3"
