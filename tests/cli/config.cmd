# the configuration names the record and the runtime directory
mkdir -p own
cat >own/meterbook.conf <<END
site = { name = "Other name"; time_zone = "Asia/Kolkata"; interval = 900;
         latitude = 20.0; longitude = 77.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/own"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; } );
END
cat >own/latest <<END
meterbook-latest 1 0123456789abcdef 1774872425000 1
1 ok 1774872425000 -3250400 - - - - - Roof
END
"$METERBOOK" -c own/meterbook.conf --now 2026-03-30T12:07:07Z now
"$METERBOOK" --config own/meterbook.conf --format csv year 2026
"$METERBOOK" -cown/meterbook.conf --database=gross.record --format csv year 2026
