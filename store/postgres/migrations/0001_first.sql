-- +goose Up
create table sensor (
	id bigint generated always as identity primary key,
	name text not null unique,
	doc text not null -- JSON of store.Sensor
);

-- What arrived and is not packed yet: one row for each call of Append.
create table batch (
	seq bigint generated always as identity primary key,
	first_at bigint not null, -- µs
	last_at bigint not null,
	n bigint not null,
	data bytea not null -- by sensor: id, length, packed block
);

-- The readings of a sensor in an hour, and what they sum up to. data is null where
-- they were forgotten on purpose.
create table block (
	sensor bigint not null,
	hour bigint not null, -- its begin, µs
	n bigint not null,
	least double precision not null,
	most double precision not null,
	total double precision not null,
	first double precision not null,
	last double precision not null,
	data bytea,
	primary key (sensor, hour)
);

create table bench (
	name text not null,
	number bigint not null,
	valid_from bigint not null, -- µs
	recorded bigint not null,
	author text not null,
	doc bytea not null, -- the bench file
	primary key (name, number)
);

create table observation (
	id text primary key,
	bench text not null,
	at bigint not null, -- µs
	recorded bigint not null,
	corrects text not null,
	struck bigint not null,
	doc bytea not null -- JSON
);
create index observation_by_bench on observation (bench, at);

-- +goose Down
drop table observation;
drop table bench;
drop table block;
drop table batch;
drop table sensor;
