# an option that a command does not have is refused, not passed over
"$METERBOOK" --database household.record --measured-only compare 2026-03; echo $?
"$METERBOOK" --database household.record --count 3 totals 2026-03; echo $?
"$METERBOOK" --database household.record --by week month 2026-03; echo $?
"$METERBOOK" --database household.record --by day year 2026; echo $?
for command in compare extremes; do "$METERBOOK" --database household.record --by week $command 2026-03; echo $?; done
"$METERBOOK" --database household.record --format cvs month 2026-03; echo $?
"$METERBOOK" --database household.record --by weak totals 2026-03; echo $?
"$METERBOOK" --database household.record --measured-onyl totals 2026-03; echo $?
"$METERBOOK" --database household.record --metre Roof totals 2026-03; echo $?
for command in compare completion extremes totals; do "$METERBOOK" $command --help | head -n 1; done
