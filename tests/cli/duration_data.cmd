"$METERBOOK" --database household.record duration 2026-03-05/2026-03-06 --meter 7 --format csv
"$METERBOOK" --database grid_alone.record duration --format json
"$METERBOOK" --database grid_alone.record duration --of consumption; echo $?
