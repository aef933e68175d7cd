mkdir -p damaged
echo 'meterbook-latest 7 x' >damaged/latest
"$METERBOOK" --database household.record --runtime damaged --now 2026-03-30T12:07:07Z now
