//! Lists the headings of all fields that finds of the store have. Layer: `store`.

use std::collections::BTreeSet;

use crate::error::Result;
use crate::model::Field;
use crate::store::Store;
use crate::store::fault::Attempt;

impl Store {
    /// The fields that finds have beside the columns of a record, withdrawn finds included.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn fields(&self) -> Result<BTreeSet<Field>> {
        self.read_fields().map_err(|fault| fault.tell(&self.path))
    }

    fn read_fields(&self) -> Attempt<BTreeSet<Field>> {
        let mut statement = self.connection.prepare(
            "SELECT DISTINCT field.key FROM finds f, json_each(f.other_fields) field
             WHERE f.other_fields != '{}'",
        )?;
        let headings = statement.query_map([], |row| row.get::<_, String>(0))?;
        let fields: rusqlite::Result<BTreeSet<Field>> =
            headings.map(|heading| heading.map(Field::from)).collect();
        Ok(fields?)
    }
}
