mkdir -p run
cat >run/latest <<END
meterbook-latest 1 0123456789abcdef 1774872425000 1
1 ok 1774872425000 -3250400 231250 - 1204500000 - 20119000 Roof
2 ok 1774872425000 1500 230900 5000000000 8000000000 4355000 16072000 House
7 lost - - - - - - - Heat pump
bus 0 up Panel
bus 1 foreign Barn
END
"$METERBOOK" --database household.record --runtime run --now 2026-03-30T12:07:07Z --format csv now
