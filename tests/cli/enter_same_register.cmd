# the same register read before: what flowed until the collector's first reading is placed, its row completed
cp logger.record e.record
printf 'time,House.import[kWh],House.export[kWh]\n2026-05-04 11:00,4999.0,7000\n2026-05-04 11:45,4999.90,7000\n2026-05-04 12:15,5000.2,7000\n' >e.csv
enter() { "$METERBOOK" --database e.record enter --same-register "$@" e.csv; echo "= $?"; }
enter; enter
sqlite3 e.record "SELECT strftime('%H:%M', ts, 'unixepoch'), import, export, estimated, unobserved, how FROM interval WHERE meter = 2 AND ts < 1777889700;
    SELECT base, anchor FROM run WHERE id < 3"
sed 's/,4999/,5009/' e.csv >f.csv
"$METERBOOK" --database e.record enter --same-register f.csv
