#include "car/tables/calibration.h"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "car/tables/evidence.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car {
namespace {

struct TableRow {
  TableWhat what;
  const char* name;
  Limits limits;
  ValueUnit unit;
};
constexpr std::array<TableRow, 4> kTableRows{{
    {TableWhat::ve, "ve", {0.02, 2.5}, {"1", Kind::ratio, "%"}},
    {TableWhat::lambda_target, "lambda_target", {0.5, 2.0}, {"lambda", Kind::ratio, ""}},
    {TableWhat::correction, "correction", {0.3, 3.0}, {"1", Kind::ratio, "%"}},
    {TableWhat::spark, "spark", {-20, 70}, {"deg", Kind::crank_angle, ""}},
}};

const TableRow& row(TableWhat what) {
  for (const TableRow& r : kTableRows) {
    if (r.what == what) return r;
  }
  broken_contract("a table of the list", __FILE__, __LINE__);
}

}  // namespace

const char* name_of(TableWhat what) { return row(what).name; }
Limits limits_of(TableWhat what) { return row(what).limits; }

ValueUnit unit_of(TableWhat what) { return row(what).unit; }
bool changes_by_share(TableWhat what) { return what != TableWhat::spark; }

std::span<const TableWhat> all_tables() {
  static constexpr std::array kAll{TableWhat::ve, TableWhat::lambda_target, TableWhat::correction,
                                   TableWhat::spark};
  return kAll;
}

Result<TableWhat> table_named(std::string_view name) {
  for (const TableRow& r : kTableRows) {
    if (name == r.name) return r.what;
  }
  return Error{ErrorCode::not_found, "",
               fmt::format("no table is called \"{}\"; expected ve, lambda_target, correction or "
                           "spark",
                           name)};
}

std::string name_of(const What& what) {
  return std::visit([](auto w) -> std::string { return name_of(w); }, what);
}

Result<What> part_named(std::string_view name) {
  if (const auto table = table_named(name)) return What(*table);
  if (const auto curve = curve_named(name)) return What(*curve);
  if (const auto setting = setting_named(name)) return What(*setting);
  std::vector<std::string> names;
  for (const auto w : all_tables()) names.emplace_back(name_of(w));
  for (const auto w : all_curves()) names.emplace_back(name_of(w));
  for (const auto w : all_settings()) names.emplace_back(name_of(w));
  const auto near = nearest(name, names);
  return Error{
      ErrorCode::not_found, "",
      fmt::format("no table, curve or setting is called \"{}\"; tables are ve, lambda_target, "
                  "correction and spark{}",
                  internal::shown(name), near ? "; did you mean \"" + *near + "\"?" : "")};
}

const char* name_of(NodeMark mark) {
  switch (mark) {
    case NodeMark::measured:
      return "measured";
    case NodeMark::inferred:
      return "inferred";
    case NodeMark::prior_only:
      return "prior only";
  }
  broken_contract("a node mark", __FILE__, __LINE__);
}

Origin origin_of(const Evidence& evidence, const Grid& grid, std::string reason) {
  Origin out{std::move(reason)};
  for (std::size_t i = 0; i < evidence.sd_log.size() && evidence.grid == grid; ++i) {
    out.half_width.push_back(evidence.half_width(i));
  }
  return out;
}

const Surface* Calibration::find(TableWhat what) const {
  const auto it = tables.find(what);
  return it == tables.end() ? nullptr : &it->second;
}

const Curve* Calibration::find(CurveWhat what) const {
  const auto it = curves.find(what);
  return it == curves.end() ? nullptr : &it->second;
}

const double* Calibration::find(SettingWhat what) const {
  const auto it = settings.find(what);
  return it == settings.end() ? nullptr : &it->second;
}

bool Calibration::has(const What& what) const {
  return std::visit([&](auto w) { return find(w) != nullptr; }, what);
}

const Origin* Calibration::origin(const What& what) const {
  const auto it = origins.find(what);
  return it == origins.end() ? nullptr : &it->second;
}

bool same_numbers(const Calibration& a, const Calibration& b) {
  return a.tables == b.tables && a.curves == b.curves && a.settings == b.settings;
}

namespace {

bool within(double v, const Limits& limits) {
  return std::isfinite(v) && v >= limits.lowest && v <= limits.highest;
}

Error outside(std::string where, double v, const Limits& limits) {
  return {ErrorCode::out_of_range, std::move(where),
          fmt::format("value {:.4g} is outside {} to {}", v, limits.lowest, limits.highest)};
}

Status check_table(TableWhat what, const Surface& s) {
  EXPECTS(s.values.size() == s.grid.size());
  const Limits limits = limits_of(what);
  if (is_of_curves(s.grid.x.kind()) || is_of_curves(s.grid.y.kind())) {
    return Error{ErrorCode::out_of_range, fmt::format("table {}", name_of(what)),
                 "stands over an axis of curves; expected engine speed and load"};
  }
  for (std::size_t iy = 0; iy < s.grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < s.grid.x.size(); ++ix) {
      const double v = s.node(ix, iy);
      if (within(v, limits)) continue;
      return outside(fmt::format("table {} at {}, {}", name_of(what),
                                 s.grid.x.format_point(ix, UnitSystem::metric),
                                 s.grid.y.format_point(iy, UnitSystem::metric)),
                     v, limits);
    }
  }
  return Done{};
}

Status check_curve(CurveWhat what, const Curve& c) {
  EXPECTS(c.values.size() == c.axis.size());
  if (c.axis.kind() != axis_of(what)) {
    return Error{ErrorCode::out_of_range, fmt::format("curve {}", name_of(what)),
                 fmt::format("stands over {}; expected {}", label_of(c.axis.kind()),
                             label_of(axis_of(what)))};
  }
  const Limits limits = limits_of(what);
  for (std::size_t i = 0; i < c.values.size(); ++i) {
    if (within(c.values[i], limits)) continue;
    return outside(
        fmt::format("curve {} at {}", name_of(what), c.axis.format_point(i, UnitSystem::metric)),
        c.values[i], limits);
  }
  return Done{};
}

// lower must not lie above higher; where they may not be equal either, `apart`.
Status check_order(const Calibration& c, SettingWhat lower, SettingWhat higher, bool apart) {
  const double* low = c.find(lower);
  const double* high = c.find(higher);
  if (!low || !high || (apart ? *low < *high : *low <= *high)) return Done{};
  return Error{ErrorCode::out_of_range, fmt::format("setting {}", name_of(lower)),
               fmt::format("{:g} must {} {} of {:g}", *low, apart ? "lie below" : "not exceed",
                           name_of(higher), *high)};
}

Status check_origin(const Calibration& c, const What& what, const Origin& origin) {
  const std::string where = "origin of " + name_of(what);
  if (!c.has(what)) return Error{ErrorCode::out_of_range, where, "there is no such value"};
  if (origin.half_width.empty()) return Done{};
  const auto* table = std::get_if<TableWhat>(&what);
  const std::size_t nodes = table ? c.find(*table)->grid.size() : 0;
  if (origin.half_width.size() != nodes) {
    return Error{ErrorCode::out_of_range, where,
                 fmt::format("{} half-widths came; expected {}", origin.half_width.size(), nodes)};
  }
  for (const double h : origin.half_width) {
    if (!std::isfinite(h) || h < 0) {
      return Error{ErrorCode::out_of_range, where,
                   fmt::format("half-width {:.4g} is not 0 or more", h)};
    }
  }
  return Done{};
}

}  // namespace

Status validate(const Calibration& c) {
  for (const auto& [what, surface] : c.tables) FW_CHECK(check_table(what, surface));
  for (const auto& [what, curve] : c.curves) FW_CHECK(check_curve(what, curve));
  for (const auto& [what, value] : c.settings) {
    if (within(value, limits_of(what))) continue;
    return outside(fmt::format("setting {}", name_of(what)), value, limits_of(what));
  }
  FW_CHECK(check_order(c, SettingWhat::soft_rev_limit, SettingWhat::hard_rev_limit, false));
  FW_CHECK(check_order(c, SettingWhat::overrun_resume, SettingWhat::overrun_entry, true));
  FW_CHECK(
      check_order(c, SettingWhat::closed_loop_richest, SettingWhat::closed_loop_leanest, false));
  for (const auto& [what, origin] : c.origins) FW_CHECK(check_origin(c, what, origin));
  return Done{};
}

}  // namespace fuelwright::car
