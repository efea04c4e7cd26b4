#pragma once
// Every handler, in the files that their names begin with: api_orders.cpp, api_runs.cpp and so on.

#include "server/call.hpp"

namespace ebbtide::server {

using Handler = Reply (*)(const Call&);

Reply today(const Call& call);

Reply list_orders(const Call& call);
Reply show_order(const Call& call);
Reply draw_order(const Call& call);
Reply order_traces(const Call& call);
Reply take_in_order(const Call& call);
Reply enter_order_conditions(const Call& call);

Reply preview_report(const Call& call);
Reply issue_report(const Call& call);
Reply issued_report(const Call& call);
Reply rejudge_order(const Call& call);

Reply show_run(const Call& call);
Reply run_fit(const Call& call);
Reply run_trace(const Call& call);
Reply run_pedigree(const Call& call);
Reply export_run(const Call& call);
Reply run_notes(const Call& call);
Reply add_run_note(const Call& call);

Reply list_methods(const Call& call);
Reply show_method(const Call& call);
Reply list_specifications(const Call& call);
Reply show_specification(const Call& call);

Reply list_materials(const Call& call);
Reply material_trend(const Call& call);
Reply find_in_ledger(const Call& call);

Reply describe_lots(const Call& call);
Reply draw_lot(const Call& call);
Reply compare_orders(const Call& call);
Reply draw_comparison(const Call& call);

Reply predict_decay(const Call& call);

Reply import_file(const Call& call);
Reply keep_import(const Call& call);

}  // namespace ebbtide::server
