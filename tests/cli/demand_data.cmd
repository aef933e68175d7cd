"$METERBOOK" --database household.record demand 2026-03-05/2026-03-06 --of export --format csv
"$METERBOOK" --database household.record demand 2026-03-05 --meter 7 --format json
