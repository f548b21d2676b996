-- Times `_s` are seconds since 1970-01-01 UTC. Blobs are compressed, see flightlog.logbook.packing.

CREATE TABLE recipes (  -- how logs were analysed: places, wing, date, columns
    id INTEGER PRIMARY KEY,
    sha256 TEXT NOT NULL UNIQUE,
    size_bytes INTEGER NOT NULL,
    content BLOB NOT NULL
);

CREATE TABLE logs (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64),
    name TEXT NOT NULL,
    date TEXT,
    size_bytes INTEGER NOT NULL,
    wing_name TEXT,  -- what the pilot called the wing when the log was added
    analysis TEXT NOT NULL,  -- the version that made the result; empty: to be made anew
    recipe_id INTEGER NOT NULL REFERENCES recipes (id)
);

CREATE TABLE originals (  -- the bytes of the log
    log_id INTEGER PRIMARY KEY REFERENCES logs (id) ON DELETE CASCADE,
    content BLOB NOT NULL
);

CREATE TABLE results (  -- the debrief as JSON (flightlog/debrief/1)
    log_id INTEGER PRIMARY KEY REFERENCES logs (id) ON DELETE CASCADE,
    size_bytes INTEGER NOT NULL,
    content BLOB NOT NULL
);

CREATE TABLE flights (
    id INTEGER PRIMARY KEY AUTOINCREMENT,  -- what the pilot calls the flight by
    log_id INTEGER NOT NULL REFERENCES logs (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    local_date TEXT,
    zone TEXT NOT NULL,
    utc_offset_s REAL NOT NULL,
    takeoff_s REAL NOT NULL,
    landing_s REAL NOT NULL,
    pilot TEXT,
    wing TEXT,
    takeoff_kind TEXT NOT NULL,
    takeoff_place TEXT,
    takeoff_lat_deg REAL NOT NULL,
    takeoff_lon_deg REAL NOT NULL,
    takeoff_altitude_m REAL,
    landing_kind TEXT NOT NULL,
    landing_place TEXT,
    landing_lat_deg REAL NOT NULL,
    landing_lon_deg REAL NOT NULL,
    landing_altitude_m REAL,
    duration_s REAL NOT NULL,
    track_length_m REAL NOT NULL,
    gain_m REAL,
    max_altitude_m REAL,
    open_distance_m REAL,
    free_distance_m REAL,
    go_arounds INTEGER NOT NULL,
    possible_go_arounds INTEGER NOT NULL,
    UNIQUE (log_id, number)
);

CREATE INDEX flights_by_takeoff ON flights (takeoff_s);

CREATE TABLE climbs (
    flight_id INTEGER NOT NULL REFERENCES flights (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    start_s REAL NOT NULL,
    end_s REAL NOT NULL,
    mode TEXT NOT NULL,
    gain_m REAL,
    base_altitude_m REAL,
    top_altitude_m REAL,
    mean_climb_mps REAL,
    best_30s_climb_mps REAL,
    turn_direction TEXT,
    PRIMARY KEY (flight_id, number)
);

CREATE TABLE passes (
    flight_id INTEGER NOT NULL REFERENCES flights (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    place TEXT,
    start_s REAL NOT NULL,
    end_s REAL NOT NULL,
    outcome TEXT NOT NULL,
    certainty TEXT NOT NULL,
    lowest_height_m REAL NOT NULL,
    decision_height_m REAL,
    decision_distance_m REAL,
    PRIMARY KEY (flight_id, number)
);
