//! People beside the chain.

use rusqlite::{Connection, OptionalExtension, params};

use crate::{Person, StoreError};

use super::fail::while_doing;

pub(crate) fn put(connection: &Connection, id: [u8; 16], name: &str, phone: &str) -> Result<(), StoreError> {
    let written = connection
        .prepare_cached(
            "insert into person (person_id, name, phone) values (?1, ?2, ?3)
             on conflict (person_id) do update set name = excluded.name, phone = excluded.phone
             where person.name is not null",
        )
        .and_then(|mut put| put.execute(params![id, name, phone]))
        .map_err(while_doing("write a person"))?;
    if written == 1 {
        Ok(())
    } else {
        Err(StoreError::PersonErased { id })
    }
}

pub(crate) fn get(connection: &Connection, id: [u8; 16]) -> Result<Option<Person>, StoreError> {
    connection
        .prepare_cached("select name, phone from person where person_id = ?1")
        .and_then(|mut find| {
            find.query_row([id], |row| {
                Ok(match (row.get(0)?, row.get(1)?) {
                    (Some(name), Some(phone)) => Person::Known { name, phone },
                    _ => Person::Erased,
                })
            })
            .optional()
        })
        .map_err(while_doing("read a person"))
}

/// Overwrites the name and number; freed space in the file is zeroed too (`secure_delete` is on).
pub(crate) fn erase(connection: &Connection, id: [u8; 16]) -> Result<(), StoreError> {
    let erased = connection
        .prepare_cached("update person set name = null, phone = null where person_id = ?1")
        .and_then(|mut erase| erase.execute([id]))
        .map_err(while_doing("erase a person"))?;
    if erased == 1 {
        Ok(())
    } else {
        Err(StoreError::NoSuchPerson { id })
    }
}
