#pragma once
// The document model: what a report says, in order, without a word about how it is set. Two writers read it.
// Texts are UTF-8 as they came; the writers make them printable and escape them.

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "basis/instant.hpp"
#include "plan/conformity.hpp"
#include "report/picture.hpp"

namespace ebbtide::report {

/// A clause of ISO/IEC 17025:2017 that a piece of the report answers: "7.8.2.1 a". Not printed; kept in the
/// HTML (data-clause), so that an assessor's question finds its place.
using Clause = std::string;

struct Heading {
    std::string text;
};

struct Paragraph {
    enum class Look { body, note };
    std::string text;
    Look look = Look::body;
    Clause clause;
};

/// Names and what they stand for.
struct Facts {
    struct Row {
        std::string name;
        std::string value;
        Clause clause;
    };
    std::vector<Row> rows;
    std::vector<Row> beside;  ///< a second column; empty for most
};

struct Cell {
    std::string text;
    std::optional<plan::Conformity> mark;  ///< its shape stands before the text
    bool muted = false;
    bool strong = false;
};

struct Column {
    enum class Kind {
        text,    ///< broken into lines as the room asks
        name,    ///< kept on one line
        number,  ///< kept on one line, set against the right edge
    };
    std::string head;
    Kind kind = Kind::text;
};

struct Table {
    std::string title;
    std::vector<Column> columns;
    std::vector<std::vector<Cell>> rows;  ///< as many cells as columns
    Clause clause;
};

/// Pictures side by side; their widths together fit the text width.
struct FigureRow {
    std::vector<Picture> pictures;
    bool keep_with_next = false;  ///< the note below belongs to it
};

struct Bullets {
    std::vector<std::string> items;
    Clause clause;
};

/// The statement of conformity, or another outcome: a word with its shape, what it is said of, and why.
struct Statement {
    plan::Conformity conformity = plan::Conformity::void_;
    std::string said_of;
    std::vector<std::string> reasons;
    std::string word = std::string(plan::name_of(conformity));
    Clause clause = "7.8.6.2";
};

using Block = std::variant<Heading, Paragraph, Facts, Table, FigureRow, Bullets, Statement>;

struct Document {
    std::string title;
    std::string laboratory;
    std::string id_and_revision;  ///< on every page
    std::string page_notice;      ///< at the foot of every page
    std::string subject;          ///< one line for the file's properties
    std::string program;          ///< "ebbtide 0.1.0"
    Instant made;
    std::vector<Block> blocks;
    Clause title_clause = "7.8.2.1 a", id_clause = "7.8.2.1 d";
};

/// Width of the text in points, the same on A4 and Letter: only the number of lines a page differs.
inline constexpr double text_width_pt = 499;

/// Sizes of type in points.
inline constexpr double small_pt = 7, body_pt = 8.5, lead_pt = 10, title_pt = 14;

}  // namespace ebbtide::report
