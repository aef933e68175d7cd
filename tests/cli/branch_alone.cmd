# a site without a balance: one meter answers for itself, what needs a balance says so
ask() { "$METERBOOK" --database branch.record --now 2026-05-07T12:00:00Z "$@"; echo "code $?"; }
ask demand --meter Saws
ask duration --meter 21 | head -n 6
ask profile --meter Saws | head -n 5
ask completeness
ask completeness 2030
ask supply 2026-05-04 | head -n 4
ask totals all --by day --meter Saws
ask year 2026
