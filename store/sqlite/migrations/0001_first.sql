-- +goose Up
create table sensor (
	id integer primary key autoincrement,
	name text not null unique,
	doc text not null -- JSON of store.Sensor
) strict;

-- What arrived and is not packed yet: one row for each call of Append.
create table batch (
	seq integer primary key autoincrement,
	first_at integer not null, -- µs
	last_at integer not null,
	n integer not null,
	data blob not null -- by sensor: id, length, packed block
) strict;

-- The readings of a sensor in an hour, and what they sum up to. data is null where
-- they were forgotten on purpose.
create table block (
	sensor integer not null,
	hour integer not null, -- its begin, µs
	n integer not null,
	least real not null,
	most real not null,
	total real not null,
	first real not null,
	last real not null,
	data blob,
	primary key (sensor, hour)
) strict;

create table bench (
	name text not null,
	number integer not null,
	valid_from integer not null, -- µs
	recorded integer not null,
	author text not null,
	doc blob not null, -- the bench file
	primary key (name, number)
) strict;

create table observation (
	id text primary key,
	bench text not null,
	at integer not null, -- µs
	recorded integer not null,
	corrects text not null,
	struck integer not null,
	doc blob not null -- JSON
) strict;
create index observation_by_bench on observation (bench, at);

-- +goose Down
drop table observation;
drop table bench;
drop table block;
drop table batch;
drop table sensor;
