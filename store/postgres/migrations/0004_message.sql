-- +goose Up
create table message (
	id bigint generated always as identity primary key,
	bench text not null,
	rule text not null,
	body text not null,
	mend text not null,
	urgent bigint not null,
	since bigint not null, -- µs
	opened bigint not null,
	closed bigint not null, -- 0 while it is open
	acknowledged bigint not null, -- 0 while nobody has
	author text not null -- who acknowledged
);
-- One open message for a bench and a rule, whatever number of servers open it.
create unique index message_open on message (bench, rule) where closed = 0;
create index message_by_bench on message (bench, opened);

create table delivery (
	message bigint not null,
	event text not null, -- open, close
	receiver text not null,
	due bigint not null, -- µs
	tries bigint not null,
	done bigint not null, -- 0 while it is on its way
	fault text not null,
	claimed bigint not null, -- until when somebody is at it
	primary key (message, event, receiver)
);
create index delivery_due on delivery (due) where done = 0;

-- +goose Down
drop table delivery;
drop table message;
