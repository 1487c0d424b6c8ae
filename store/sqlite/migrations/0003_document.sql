-- +goose Up
-- A text by kind and name; the newest counts.
create table document (
	kind text not null,
	name text not null,
	recorded integer not null, -- µs
	doc blob not null,
	primary key (kind, name)
) strict;

create table photo (
	id text primary key,
	bench text not null,
	at integer not null, -- µs
	recorded integer not null,
	media text not null, -- image/jpeg
	doc blob not null, -- JSON
	data blob not null
) strict;
create index photo_by_bench on photo (bench, at);

-- +goose Down
drop table photo;
drop table document;
