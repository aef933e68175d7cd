-- after supply: the same in a zone whose midnights lie within ten minutes of UTC
UPDATE setting SET zone = 'Asia/Kathmandu';
