# a reader that goes away is nothing to talk about; the answer is longer than a pipe holds
"$METERBOOK" --database household.record --format json day 2026-03-12 | head -n 2
