-- after supply: values that no meter has
UPDATE interval SET voltage = 9223372036854775807 WHERE ts % 3600 = 0;
UPDATE interval SET voltage = -9223372036854775807 WHERE ts % 3600 = 900;
UPDATE momentary SET voltage_l2 = 9223372036854775807, frequency = 9223372036854775807 WHERE ts % 3600 = 1800;
UPDATE momentary SET voltage_l3 = -1, frequency = 0 WHERE ts % 3600 = 2700;
UPDATE interval SET unobserved = -5000 WHERE ts % 86400 = 300;
UPDATE interval SET unobserved = 9000000000 WHERE ts % 86400 = 3300;
