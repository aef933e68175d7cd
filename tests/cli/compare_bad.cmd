"$METERBOOK" --database household.record compare; echo $?
"$METERBOOK" --database household.record compare 2026-13; echo $?
"$METERBOOK" --database household.record compare 2026-03 2026-03 2026-03; echo $?
"$METERBOOK" --database household.record compare 2026-03; echo $?
"$METERBOOK" --database household.record comprae 2026-03; echo $?
"$METERBOOK" compare --help | head -n 3
