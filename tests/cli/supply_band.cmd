# an Indian band (MERC SoP Regulations 2014: +-6 %), a level and a share of the site's own
mkdir -p own && cat >own/supply.conf <<END
site = { name = "Long Lane"; time_zone = "Europe/Berlin"; interval = 300; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/supply.record"; runtime = "$PWD/own"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "House"; role = "grid"; bus = "host"; unit_id = 1; map = "sunspec"; rated_power = 5000; } );
supply = { band_percent = 6; throttle_voltage = 253.5; valid_share = 75; };
END
"$METERBOOK" -c own/supply.conf --now 2026-06-22T00:00:00Z supply
