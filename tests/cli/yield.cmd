# nothing is stated of the plant: neither size nor place
"$METERBOOK" --database household.record --now 2026-03-30T12:07:07Z yield 2026-03
