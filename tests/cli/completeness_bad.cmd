for words in "--by week" "--view all" 2026-13 2027-01; do "$METERBOOK" --database household.record --now 2026-03-30T12:07:07Z completeness $words; echo $?; done
