#include "car/tables/calibration.h"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "car/tables/evidence.h"

namespace fuelwright::car {
namespace {

struct Row {
  TableWhat what;
  const char* name;
  Limits limits;
};
constexpr std::array<Row, 3> kRows{{
    {TableWhat::ve, "ve", {0.02, 2.5}},
    {TableWhat::lambda_target, "lambda_target", {0.5, 2.0}},
    {TableWhat::correction, "correction", {0.3, 3.0}},
}};

const Row& row(TableWhat what) {
  for (const Row& r : kRows) {
    if (r.what == what) return r;
  }
  broken_contract("a table of the list", __FILE__, __LINE__);
}

}  // namespace

const char* name_of(TableWhat what) { return row(what).name; }
Limits limits_of(TableWhat what) { return row(what).limits; }

Result<TableWhat> table_named(std::string_view name) {
  for (const Row& r : kRows) {
    if (name == r.name) return r.what;
  }
  return Error{
      ErrorCode::not_found, "",
      fmt::format("no table is called \"{}\"; expected ve, lambda_target or correction", name)};
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

const Surface* Calibration::find(TableWhat what) const {
  const auto it = tables.find(what);
  return it == tables.end() ? nullptr : &it->second;
}

Status validate(const Calibration& calibration) {
  for (const auto& [what, surface] : calibration.tables) {
    EXPECTS(surface.values.size() == surface.grid.size());
    const Limits limits = limits_of(what);
    for (std::size_t iy = 0; iy < surface.grid.y.size(); ++iy) {
      for (std::size_t ix = 0; ix < surface.grid.x.size(); ++ix) {
        const double v = surface.node(ix, iy);
        if (std::isfinite(v) && v >= limits.lowest && v <= limits.highest) continue;
        return Error{
            ErrorCode::out_of_range,
            fmt::format("table {} at {}, {}", name_of(what),
                        surface.grid.x.format_point(ix, UnitSystem::metric),
                        surface.grid.y.format_point(iy, UnitSystem::metric)),
            fmt::format("value {:.4g} is outside {} to {}", v, limits.lowest, limits.highest)};
      }
    }
  }
  return Done{};
}

}  // namespace fuelwright::car
