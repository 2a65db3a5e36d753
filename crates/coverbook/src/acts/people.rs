//! People: names beside the chain, under random ids.

use super::ActError;
use super::fold::Book;
use std::collections::HashMap;
use store::{Person, Store};
use uuid::Uuid;

/// Who acts, on what device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Author {
    /// The person's name.
    pub by: String,
    /// The device or program.
    pub device: String,
}

/// A person's id, and whether the name still has to be written beside the chain.
pub(crate) struct PersonId {
    pub(crate) id: Uuid,
    pub(crate) is_new: bool,
}

/// Finds the id of a person by name among those who wrote in the book, or makes one.
///
/// Ids belong to a site: the same name elsewhere has another, so that erasing one there leaves this one.
pub(crate) fn id_of(store: &dyn Store, book: &Book, name: &str) -> Result<PersonId, ActError> {
    let name = checked_name(name)?;
    for id in &book.people {
        if let Some(Person::Known { name: known, .. }) = store.person(id.into_bytes())?
            && known == name
        {
            return Ok(PersonId {
                id: *id,
                is_new: false,
            });
        }
    }
    Ok(PersonId {
        id: Uuid::new_v4(),
        is_new: true,
    })
}

/// Returns a name without blanks around it.
pub(crate) fn checked_name(name: &str) -> Result<&str, ActError> {
    let name = name.trim();
    if name.is_empty() {
        return Err(ActError::asked(
            "no-name",
            "nobody is named; say by whom, since the book shows who wrote it",
        ));
    }
    if name.chars().count() > 200 {
        return Err(ActError::asked(
            "no-name",
            "the name is longer than 200 characters; shorten it",
        ));
    }
    Ok(name)
}

/// Looks up names by id, asking the store once for each.
pub(crate) struct Names<'s> {
    store: &'s dyn Store,
    known: std::cell::RefCell<HashMap<Uuid, String>>,
}

impl<'s> Names<'s> {
    pub(crate) fn of(store: &'s dyn Store) -> Names<'s> {
        Names {
            store,
            known: Default::default(),
        }
    }

    /// Returns a person's name, `erased`, or `not known`.
    pub(crate) fn name(&self, id: Uuid) -> String {
        if let Some(name) = self.known.borrow().get(&id) {
            return name.clone();
        }
        let name = match self.store.person(id.into_bytes()) {
            Ok(Some(Person::Known { name, .. })) => name,
            Ok(Some(Person::Erased)) => "erased".to_owned(),
            Ok(None) => "not known".to_owned(),
            Err(error) => {
                tracing::warn!(%id, %error, "a person's name could not be read");
                "not readable".to_owned()
            }
        };
        self.known.borrow_mut().insert(id, name.clone());
        name
    }
}
