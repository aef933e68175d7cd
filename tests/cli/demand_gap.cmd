# consumption needs the roof's meter, which has a hole by day
"$METERBOOK" --database household.record demand 2026-02-25/2026-03 --of consumption --length 1h
"$METERBOOK" --database lost.record demand all --of production
