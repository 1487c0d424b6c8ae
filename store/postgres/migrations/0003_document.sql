-- +goose Up
-- A text by kind and name; the newest counts.
create table document (
	kind text not null,
	name text not null,
	recorded bigint not null, -- µs
	doc bytea not null,
	primary key (kind, name)
);

create table photo (
	id text primary key,
	bench text not null,
	at bigint not null, -- µs
	recorded bigint not null,
	media text not null, -- image/jpeg
	doc bytea not null, -- JSON
	data bytea not null
);
create index photo_by_bench on photo (bench, at);

-- +goose Down
drop table photo;
drop table document;
