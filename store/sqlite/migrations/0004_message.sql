-- +goose Up
create table message (
	id integer primary key autoincrement,
	bench text not null,
	rule text not null,
	body text not null,
	mend text not null,
	urgent integer not null,
	since integer not null, -- µs
	opened integer not null,
	closed integer not null, -- 0 while it is open
	acknowledged integer not null, -- 0 while nobody has
	author text not null -- who acknowledged
) strict;
-- One open message for a bench and a rule, whatever number of servers open it.
create unique index message_open on message (bench, rule) where closed = 0;
create index message_by_bench on message (bench, opened);

create table delivery (
	message integer not null,
	event text not null, -- open, close
	receiver text not null,
	due integer not null, -- µs
	tries integer not null,
	done integer not null, -- 0 while it is on its way
	fault text not null,
	claimed integer not null, -- until when somebody is at it
	primary key (message, event, receiver)
) strict;
create index delivery_due on delivery (due) where done = 0;

-- +goose Down
drop table delivery;
drop table message;
