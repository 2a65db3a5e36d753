//! Tables for a person: columns aligned, figures to the right.

/// A table in the making.
#[derive(Debug, Default)]
pub(crate) struct Table {
    rows: Vec<Vec<String>>,
}

impl Table {
    /// Begins a table with its headings.
    pub(crate) fn with(headings: &[&str]) -> Table {
        Table {
            rows: vec![headings.iter().map(|h| (*h).to_owned()).collect()],
        }
    }

    /// Adds a row.
    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// Returns the table as text; nothing when it has no row.
    pub(crate) fn text(&self) -> String {
        if self.rows.len() < 2 {
            return String::new();
        }
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let cell = |row: &Vec<String>, column: usize| row.get(column).cloned().unwrap_or_default();
        let width = |column: usize| {
            self.rows
                .iter()
                .map(|row| cell(row, column).chars().count())
                .max()
                .unwrap_or(0)
        };
        let is_figures = |column: usize| {
            self.rows[1..].iter().map(|row| cell(row, column)).all(|text| {
                text.is_empty()
                    || text == "-"
                    || text
                        .trim_start_matches(['-', '±'])
                        .starts_with(|c: char| c.is_ascii_digit())
            })
        };
        let mut text = String::new();
        for row in &self.rows {
            let mut line = String::new();
            for column in 0..columns {
                let (cell, width) = (cell(row, column), width(column));
                let blank = " ".repeat(width - cell.chars().count());
                if column > 0 {
                    line += "  ";
                }
                if is_figures(column) {
                    line += &blank;
                    line += &cell;
                } else {
                    line += &cell;
                    line += &blank;
                }
            }
            text += line.trim_end();
            text.push('\n');
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_stand_to_the_right_and_words_to_the_left() {
        let mut table = Table::with(&["run", "cover"]);
        table.row(["E1".into(), "0.598".into()]);
        table.row(["Sewer".into(), "10.100".into()]);
        assert_eq!(table.text(), "run     cover\nE1      0.598\nSewer  10.100\n");
    }
}
