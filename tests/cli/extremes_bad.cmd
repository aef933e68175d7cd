"$METERBOOK" --database household.record extremes; echo $?
"$METERBOOK" --database household.record --count 0 extremes 2026; echo $?
"$METERBOOK" --database household.record --count 3x extremes 2026; echo $?
"$METERBOOK" --database household.record --of sun extremes 2026; echo $?
"$METERBOOK" --database household.record extremes 2026-03-30; echo $?
"$METERBOOK" --database household.record --of self_consumption demand 2026-03; echo $?
"$METERBOOK" --database household.record extreems 2026-03; echo $?
