-- +goose Up
alter table bench add column why text not null default '';

-- +goose Down
alter table bench drop column why;
