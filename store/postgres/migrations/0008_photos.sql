-- +goose Up
-- What a method read in a photo; the figures of earlier methods stay.
create table measure (
	photo text not null,
	method text not null,
	recorded bigint not null, -- µs
	doc bytea not null, -- JSON
	primary key (photo, method)
);

create table measure_picture (
	photo text not null,
	method text not null,
	name text not null, -- overlay, or a plant
	data bytea not null,
	primary key (photo, method, name)
);

-- What a person says of a candidate in a photo.
create table verdict (
	id text primary key,
	photo text not null,
	recorded bigint not null, -- µs
	author text not null,
	doc bytea not null -- JSON
);
create index verdict_by_photo on verdict (photo);

-- +goose Down
drop table verdict;
drop table measure_picture;
drop table measure;
