"$METERBOOK" --database household.record --meter Rof totals 2026-03
echo $?
"$METERBOOK" --database household.record --meter windmill totals 2026-03
echo $?
"$METERBOOK" --database household.record totals
echo $?
"$METERBOOK" --database household.record totals 2026-04/2026-03
echo $?
"$METERBOOK" --database household.record totals 2027
echo $?
"$METERBOOK" --database settings_only.record --meter all totals all
echo $?
"$METERBOOK" --database household.record --meter all totals 2025
echo $?
"$METERBOOK" --database household.record --meter all --measured-only totals 2026-03 | head -n 5
