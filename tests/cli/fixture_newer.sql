-- An invented site: written by a later program
PRAGMA user_version = 99;
