# kVA: ten minutes of 25 and five of 6.6 are 18.867 in a quarter of an hour; corrected rows count
"$METERBOOK" --database demand.record --now 2026-05-10T00:00:00Z demand 2026-05-04 --of apparent
for day in 2026-05-05 2026-05-08; do
    "$METERBOOK" --database demand.record --now 2026-05-10T00:00:00Z demand $day --of apparent --meter House --format csv 2>/dev/null
done
"$METERBOOK" --database household.record demand --of apparent; echo $?
"$METERBOOK" --database derived.record demand --of apparent; echo $?
"$METERBOOK" --database household.record duration --of apparent; echo $?
"$METERBOOK" --database household.record demand --of self_consumption; echo $?
