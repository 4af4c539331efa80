BEGIN TRANSACTION;
CREATE TABLE entry (
	id INTEGER NOT NULL, 
	session_id INTEGER NOT NULL, 
	t_us BIGINT NOT NULL, 
	wall_us BIGINT NOT NULL, 
	what TEXT NOT NULL, 
	at TEXT, 
	spur TEXT, 
	line TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(session_id) REFERENCES session (id)
);
INSERT INTO "entry" VALUES(1,1,2000000,1790000002000000,'foreman','kiln','kiln','{"t": 2.0, "what": "foreman", "spur": "kiln", "is": "asked"}');
INSERT INTO "entry" VALUES(2,1,2000000,1790000002000000,'phase','kiln','kiln','{"t": 2.0, "what": "phase", "spur": "kiln", "phase": "opening", "next": "foreman"}');
INSERT INTO "entry" VALUES(3,1,20000000,1790000020000000,'foreman','kiln','kiln','{"t": 20.0, "what": "foreman", "spur": "kiln", "is": "released"}');
INSERT INTO "entry" VALUES(4,1,20000000,1790000020000000,'phase','kiln','kiln','{"t": 20.0, "what": "phase", "spur": "kiln", "phase": "opening", "next": "kiln-flag"}');
INSERT INTO "entry" VALUES(5,1,25020000,1790000025020000,'phase','kiln','kiln','{"t": 25.02, "what": "phase", "spur": "kiln", "phase": "opening", "next": "kiln-switch"}');
INSERT INTO "entry" VALUES(6,1,33020000,1790000033020000,'stage','kiln-switch',NULL,'{"t": 33.02, "what": "stage", "switch": "kiln-switch", "stage": "unlocked"}');
INSERT INTO "entry" VALUES(7,1,36620000,1790000036620000,'stage','kiln-switch',NULL,'{"t": 36.62, "what": "stage", "switch": "kiln-switch", "stage": "lined"}');
INSERT INTO "entry" VALUES(8,1,36620000,1790000036620000,'phase','kiln','kiln','{"t": 36.62, "what": "phase", "spur": "kiln", "phase": "opening", "next": "kiln-gate"}');
INSERT INTO "entry" VALUES(9,1,44020000,1790000044020000,'phase','kiln','kiln','{"t": 44.02, "what": "phase", "spur": "kiln", "phase": "opening", "next": "kiln-chock"}');
INSERT INTO "entry" VALUES(10,1,48020000,1790000048020000,'phase','kiln','kiln','{"t": 48.02, "what": "phase", "spur": "kiln", "phase": "opening", "next": "work"}');
INSERT INTO "entry" VALUES(11,1,60020000,1790000060020000,'stage','kiln-switch',NULL,'{"t": 60.02, "what": "stage", "switch": "kiln-switch", "stage": "in-use"}');
INSERT INTO "entry" VALUES(12,1,60020000,1790000060020000,'phase','kiln','kiln','{"t": 60.02, "what": "phase", "spur": "kiln", "phase": "working", "next": "work"}');
INSERT INTO "entry" VALUES(13,1,85000000,1790000085000000,'brake-test','kiln','kiln','{"t": 85.0, "what": "brake-test", "spur": "kiln", "is": "running", "cars": 3, "seconds": 17.528}');
INSERT INTO "entry" VALUES(14,1,102528333,1790000102528333,'brake-test','kiln','kiln','{"t": 102.528, "what": "brake-test", "spur": "kiln", "is": "done"}');
INSERT INTO "entry" VALUES(15,1,140000000,1790000140000000,'phase','kiln','kiln','{"t": 140.0, "what": "phase", "spur": "kiln", "phase": "closing", "next": "kiln-gate"}');
INSERT INTO "entry" VALUES(16,1,147020000,1790000147020000,'phase','kiln','kiln','{"t": 147.02, "what": "phase", "spur": "kiln", "phase": "closing", "next": "foreman"}');
INSERT INTO "entry" VALUES(17,1,150000000,1790000150000000,'foreman','kiln','kiln','{"t": 150.0, "what": "foreman", "spur": "kiln", "is": "not-asked"}');
INSERT INTO "entry" VALUES(18,1,150000000,1790000150000000,'phase','kiln','kiln','{"t": 150.0, "what": "phase", "spur": "kiln", "phase": "closing", "next": "kiln-flag"}');
INSERT INTO "entry" VALUES(19,1,155020000,1790000155020000,'phase','kiln','kiln','{"t": 155.02, "what": "phase", "spur": "kiln", "phase": "closing", "next": "kiln-switch"}');
INSERT INTO "entry" VALUES(20,1,160520000,1790000160520000,'stage','kiln-switch',NULL,'{"t": 160.52, "what": "stage", "switch": "kiln-switch", "stage": "restored"}');
INSERT INTO "entry" VALUES(21,1,165020000,1790000165020000,'stage','kiln-switch',NULL,'{"t": 165.02, "what": "stage", "switch": "kiln-switch", "stage": "secured"}');
INSERT INTO "entry" VALUES(22,1,165020000,1790000165020000,'phase','kiln','kiln','{"t": 165.02, "what": "phase", "spur": "kiln", "phase": "idle", "next": null}');
INSERT INTO "entry" VALUES(23,2,5029000,1790086405029000,'stage','kiln-switch',NULL,'{"t": 5.029, "what": "stage", "switch": "kiln-switch", "stage": "irregular"}');
INSERT INTO "entry" VALUES(24,2,5029000,1790086405029000,'violation','kiln-switch','kiln','{"t": 5.029, "what": "violation", "number": 1, "rule": "moved-while-locked", "at": "kiln-switch", "spur": "kiln", "missing": []}');
INSERT INTO "entry" VALUES(25,2,21020000,1790086421020000,'stage','kiln-switch',NULL,'{"t": 21.02, "what": "stage", "switch": "kiln-switch", "stage": "in-use"}');
INSERT INTO "entry" VALUES(26,2,21020000,1790086421020000,'violation','kiln-switch','kiln','{"t": 21.02, "what": "violation", "number": 2, "rule": "key-on-hook", "at": "kiln-switch", "spur": "kiln", "missing": []}');
INSERT INTO "entry" VALUES(27,2,21020000,1790086421020000,'violation','kiln-switch','kiln','{"t": 21.02, "what": "violation", "number": 3, "rule": "out-of-order", "at": "kiln-switch", "spur": "kiln", "missing": ["foreman"]}');
INSERT INTO "entry" VALUES(28,2,21020000,1790086421020000,'phase','kiln','kiln','{"t": 21.02, "what": "phase", "spur": "kiln", "phase": "working", "next": "work"}');
INSERT INTO "entry" VALUES(29,2,30720000,1790086430720000,'stage','kiln-switch',NULL,'{"t": 30.72, "what": "stage", "switch": "kiln-switch", "stage": "restored"}');
INSERT INTO "entry" VALUES(30,2,30720000,1790086430720000,'phase','kiln','kiln','{"t": 30.72, "what": "phase", "spur": "kiln", "phase": "closing", "next": "kiln-flag"}');
INSERT INTO "entry" VALUES(31,2,34020000,1790086434020000,'stage','kiln-switch',NULL,'{"t": 34.02, "what": "stage", "switch": "kiln-switch", "stage": "secured"}');
INSERT INTO "entry" VALUES(32,2,34020000,1790086434020000,'violation','kiln-switch','kiln','{"t": 34.02, "what": "violation", "number": 4, "rule": "out-of-order", "at": "kiln-switch", "spur": "kiln", "missing": ["kiln-flag"]}');
INSERT INTO "entry" VALUES(33,2,154020000,1790086554020000,'violation','kiln-flag','kiln','{"t": 154.02, "what": "violation", "number": 5, "rule": "not-returned", "at": "kiln-flag", "spur": "kiln", "missing": []}');
CREATE TABLE pulse (
	id INTEGER NOT NULL, 
	beat BIGINT NOT NULL, 
	state TEXT NOT NULL, 
	session_id INTEGER, 
	PRIMARY KEY (id)
);
INSERT INTO "pulse" VALUES(1,3,'stopped',2);
CREATE TABLE remark (
	id INTEGER NOT NULL, 
	session_id INTEGER, 
	t_us BIGINT, 
	wall_us BIGINT NOT NULL, 
	text TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(session_id) REFERENCES session (id)
);
INSERT INTO "remark" VALUES(1,1,0,1790000000000000,'The session began.');
INSERT INTO "remark" VALUES(2,2,0,1790000000000000,'The session began.');
CREATE TABLE request (
	id INTEGER NOT NULL, 
	wall_us BIGINT NOT NULL, 
	kind TEXT NOT NULL, 
	command TEXT, 
	spur TEXT, 
	violation INTEGER, 
	cars INTEGER, 
	note TEXT, 
	contact TEXT, 
	made BOOLEAN, 
	answered_wall_us BIGINT, 
	accepted BOOLEAN, 
	why TEXT, 
	PRIMARY KEY (id)
);
INSERT INTO "request" VALUES(1,1790000000000000,'order','ask','kiln',NULL,NULL,NULL,NULL,NULL,1790000000000000,1,NULL);
CREATE TABLE session (
	id INTEGER NOT NULL, 
	layout_name TEXT NOT NULL, 
	layout_path TEXT NOT NULL, 
	layout_toml TEXT NOT NULL, 
	simulated BOOLEAN NOT NULL, 
	began_wall_us BIGINT NOT NULL, 
	ended_wall_us BIGINT, 
	ended_t_us BIGINT, 
	outset TEXT NOT NULL, 
	PRIMARY KEY (id)
);
INSERT INTO "session" VALUES(1,'Quarry Landing','quarry-landing.toml','[layout]
name  = "Quarry Landing"
scale = "HO"
[[switch]]
id = "kiln-switch"
name = "Lime kiln switch"
key = "kiln-key"
contacts = { hasp = 5, normal = 6, reverse = 13, detector = 19, button = 9 }
[[spur]]
id = "kiln"
switch = "kiln-switch"
foreman = "host"
contacts = { detector = 26, fouling = 10 }
grade_percent = 1.2
[[gate]]
id = "kiln-gate"
spur = "kiln"
contacts = { hasp = 22, shut = 23 }
[[flag]]
id = "kiln-flag"
spur = "kiln"
contacts = { rack = 24 }
[[chock]]
id = "kiln-chock"
spur = "kiln"
contacts = { rack = 27 }
[[key]]
id = "kiln-key"
contacts = { hook = 4 }
[[trap]]
id = "approach"
first = "kiln-switch.detector"
second = "kiln.detector"
distance_mm = 305.0
limit_mph = 10.0
',1,1790000000000000,1790000000000000,400000000,'{"stages": {"kiln-switch": "secured"}, "phases": {"kiln": ["idle", null]}, "foremen": {"kiln": "not-asked"}, "outputs": {}, "faults": []}');
INSERT INTO "session" VALUES(2,'Quarry Landing','quarry-landing.toml','[layout]
name  = "Quarry Landing"
scale = "HO"
[[switch]]
id = "kiln-switch"
name = "Lime kiln switch"
key = "kiln-key"
contacts = { hasp = 5, normal = 6, reverse = 13, detector = 19, button = 9 }
[[spur]]
id = "kiln"
switch = "kiln-switch"
foreman = "host"
contacts = { detector = 26, fouling = 10 }
grade_percent = 1.2
[[gate]]
id = "kiln-gate"
spur = "kiln"
contacts = { hasp = 22, shut = 23 }
[[flag]]
id = "kiln-flag"
spur = "kiln"
contacts = { rack = 24 }
[[chock]]
id = "kiln-chock"
spur = "kiln"
contacts = { rack = 27 }
[[key]]
id = "kiln-key"
contacts = { hook = 4 }
[[trap]]
id = "approach"
first = "kiln-switch.detector"
second = "kiln.detector"
distance_mm = 305.0
limit_mph = 10.0
',1,1790086400000000,NULL,NULL,'{"stages": {"kiln-switch": "secured"}, "phases": {"kiln": ["idle", null]}, "foremen": {"kiln": "not-asked"}, "outputs": {}, "faults": []}');
CREATE TABLE standing (
	contact TEXT NOT NULL, 
	raw BOOLEAN, 
	settled BOOLEAN, 
	edges INTEGER NOT NULL, 
	wall_us BIGINT NOT NULL, 
	PRIMARY KEY (contact)
);
INSERT INTO "standing" VALUES('kiln-flag.rack',1,1,1,1790086400000000);
CREATE TABLE tape (
	id INTEGER NOT NULL, 
	session_id INTEGER NOT NULL, 
	t_us BIGINT NOT NULL, 
	contact TEXT, 
	made BOOLEAN, 
	command TEXT, 
	spur TEXT, 
	violation INTEGER, 
	cars INTEGER, 
	PRIMARY KEY (id), 
	FOREIGN KEY(session_id) REFERENCES session (id)
);
INSERT INTO "tape" VALUES(1,1,0,'kiln.detector',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(2,1,2000000,NULL,NULL,'ask','kiln',NULL,NULL);
INSERT INTO "tape" VALUES(3,1,20000000,NULL,NULL,'release','kiln',NULL,NULL);
INSERT INTO "tape" VALUES(4,1,25000000,'kiln-flag.rack',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(5,1,28000000,'kiln-key.hook',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(6,1,33000000,'kiln-switch.hasp',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(7,1,36000000,'kiln-switch.normal',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(8,1,36600000,'kiln-switch.reverse',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(9,1,41000000,'kiln-gate.hasp',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(10,1,44000000,'kiln-gate.shut',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(11,1,48000000,'kiln-chock.rack',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(12,1,60000000,'kiln-switch.detector',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(13,1,80000000,'kiln-switch.detector',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(14,1,85000000,NULL,NULL,'start-brake-test','kiln',NULL,3);
INSERT INTO "tape" VALUES(15,1,120000000,'kiln-switch.detector',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(16,1,125000000,'kiln.detector',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(17,1,130000000,'kiln-switch.detector',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(18,1,140000000,NULL,NULL,'work-done','kiln',NULL,NULL);
INSERT INTO "tape" VALUES(19,1,145000000,'kiln-gate.shut',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(20,1,147000000,'kiln-gate.hasp',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(21,1,150000000,NULL,NULL,'hand-back','kiln',NULL,NULL);
INSERT INTO "tape" VALUES(22,1,155000000,'kiln-flag.rack',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(23,1,160000000,'kiln-switch.reverse',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(24,1,160500000,'kiln-switch.normal',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(25,1,165000000,'kiln-switch.hasp',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(26,2,0,'kiln-flag.rack',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(27,2,5000000,'kiln-switch.normal',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(28,2,5004000,'kiln-switch.normal',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(29,2,5009000,'kiln-switch.normal',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(30,2,5800000,'kiln-switch.reverse',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(31,2,9000000,'kiln-switch.detector',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(32,2,20000000,'kiln-switch.detector',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(33,2,21000000,'kiln-switch.hasp',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(34,2,30000000,'kiln-switch.reverse',0,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(35,2,30700000,'kiln-switch.normal',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(36,2,34000000,'kiln-switch.hasp',1,NULL,NULL,NULL,NULL);
INSERT INTO "tape" VALUES(37,2,40000000,NULL,NULL,'acknowledge',NULL,1,NULL);
CREATE TABLE violation (
	session_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	t_us BIGINT NOT NULL, 
	wall_us BIGINT NOT NULL, 
	rule TEXT NOT NULL, 
	at TEXT NOT NULL, 
	spur TEXT, 
	missing TEXT NOT NULL, 
	times INTEGER NOT NULL, 
	last_t_us BIGINT NOT NULL, 
	acknowledged_t_us BIGINT, 
	note TEXT, 
	PRIMARY KEY (session_id, number), 
	FOREIGN KEY(session_id) REFERENCES session (id)
);
INSERT INTO "violation" VALUES(2,1,5029000,1790086405029000,'moved-while-locked','kiln-switch','kiln','[]',1,5029000,300000000,'seen by the host');
INSERT INTO "violation" VALUES(2,2,21020000,1790086421020000,'key-on-hook','kiln-switch','kiln','[]',1,21020000,NULL,NULL);
INSERT INTO "violation" VALUES(2,3,21020000,1790086421020000,'out-of-order','kiln-switch','kiln','["foreman"]',1,21020000,NULL,NULL);
INSERT INTO "violation" VALUES(2,4,34020000,1790086434020000,'out-of-order','kiln-switch','kiln','["kiln-flag"]',1,34020000,NULL,NULL);
INSERT INTO "violation" VALUES(2,5,154020000,1790086554020000,'not-returned','kiln-flag','kiln','[]',1,154020000,NULL,NULL);
CREATE INDEX request_unanswered ON request (answered_wall_us, id);
CREATE INDEX tape_of_session ON tape (session_id, id);
CREATE INDEX entry_of_session ON entry (session_id, id);
COMMIT;
