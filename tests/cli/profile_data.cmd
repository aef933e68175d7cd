"$METERBOOK" --database household.record profile 2026-03-06/2026-03-09 --meter 7 --format csv
"$METERBOOK" --database autumn.record profile --by month --format json
"$METERBOOK" --database household.record profile --by week; echo $?
"$METERBOOK" --database household.record profile 2026-04; echo $?
