-- What the pilot says about a flight. `flight` is its number, `takeoff_s` its take-off as last found: a new analysis
-- ties the flight it finds there to it. A row without such a flight is kept, and told.

CREATE TABLE remarks (
    flight INTEGER PRIMARY KEY,
    log_id INTEGER NOT NULL REFERENCES logs (id) ON DELETE CASCADE,
    takeoff_s REAL NOT NULL,
    note TEXT CHECK (length(note) <= 10000),
    pilot TEXT CHECK (length(pilot) <= 200),
    wing TEXT CHECK (length(wing) <= 200),
    takeoff_place TEXT CHECK (length(takeoff_place) <= 200),
    landing_place TEXT CHECK (length(landing_place) <= 200),
    is_flight INTEGER NOT NULL DEFAULT 1 CHECK (is_flight IN (0, 1))
);

CREATE INDEX remarks_by_log ON remarks (log_id);
