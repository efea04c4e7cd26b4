#include <algorithm>

#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {

void add_items(Document& document, const ReportInput& input) {
    const plan::Order& order = input.record.order;
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"Items and specimens"});

    Table items;
    items.title = "Items as received";
    items.clause = "7.8.2.1 g";
    items.columns = {{"item"}, {"description"}, {"lot"}, {"condition on receipt"}};
    const bool suppliers =
        std::ranges::any_of(order.items, [](const plan::Item& item) { return !item.supplier.empty(); });
    if (suppliers) items.columns.insert(items.columns.end() - 1, {"supplier"});
    for (const plan::Item& item : order.items) {
        std::vector<Cell>& row = items.rows.emplace_back();
        row.push_back(Cell{item.id, {}, false, true});
        row.push_back(Cell{or_not_stated(item.description), {}, false, false});
        row.push_back(Cell{or_not_stated(item.lot), {}, false, false});
        if (suppliers) row.push_back(Cell{or_not_stated(item.supplier), {}, false, false});
        row.push_back(Cell{or_not_stated(item.condition_on_receipt), {}, false, false});
    }
    if (items.rows.empty())
        blocks.emplace_back(Paragraph{"The order names no items.", Paragraph::Look::body, "7.8.2.1 g"});
    else
        blocks.emplace_back(std::move(items));

    Table specimens;
    specimens.title = "Specimens cut from them";
    specimens.columns = {{"specimen"}, {"item"}, {"direction"}, {"place"}, {"state"}};
    for (const plan::Specimen& specimen : order.specimens)
        specimens.rows.push_back(
            {Cell{specimen.id, {}, false, true}, Cell{or_not_stated(specimen.item), {}, false, false},
             Cell{specimen.direction.empty() ? "–" : specimen.direction, {}, false, false},
             Cell{or_not_stated(specimen.place), {}, false, false},
             Cell{or_not_stated(specimen.state), {}, false, false}});
    if (!specimens.rows.empty()) blocks.emplace_back(std::move(specimens));

    Facts sampling;
    sampling.rows = {{"Sampled by", or_not_stated(order.sampled_by), "7.8.2.1 h"},
                     {"Sampling plan",
                      order.sampling_plan.empty() ? "none stated; the results apply to the items as received"
                                                  : order.sampling_plan,
                      "7.8.2.1 k"},
                     {"Tested by", or_not_stated(order.tested_by), "7.8.2.1 i"}};
    blocks.emplace_back(std::move(sampling));
}

}  // namespace ebbtide::report
