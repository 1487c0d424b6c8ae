-- +goose Up
-- What a method read in a photo; the figures of earlier methods stay.
create table measure (
	photo text not null,
	method text not null,
	recorded integer not null, -- µs
	doc blob not null, -- JSON
	primary key (photo, method)
) strict;

create table measure_picture (
	photo text not null,
	method text not null,
	name text not null, -- overlay, or a plant
	data blob not null,
	primary key (photo, method, name)
) strict;

-- What a person says of a candidate in a photo.
create table verdict (
	id text primary key,
	photo text not null,
	recorded integer not null, -- µs
	author text not null,
	doc blob not null -- JSON
) strict;
create index verdict_by_photo on verdict (photo);

-- +goose Down
drop table verdict;
drop table measure_picture;
drop table measure;
