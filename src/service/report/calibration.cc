// A whole calibration for the terminal: tables, curves, settings, each with how it came about.
#include <fmt/format.h>

#include "service/difference_words.h"
#include "service/report/grid.h"
#include "service/report/text.h"

namespace fuelwright::service {
namespace {

std::string story(const car::Calibration& c, const car::What& what) {
  const car::Origin* origin = c.origin(what);
  return origin && !origin->reason.empty() ? "  " + origin->reason + "\n" : "";
}

std::string cell(car::TableWhat what, double v) {
  switch (what) {
    case car::TableWhat::ve:
    case car::TableWhat::correction:
      return fmt::format("{:.1f}", 100 * v);
    case car::TableWhat::lambda_target:
      return fmt::format("{:.3f}", v);
    case car::TableWhat::spark:
      return fmt::format("{:.1f}", v);
  }
  broken_contract("a table of the list", __FILE__, __LINE__);
}

const char* unit_name(car::TableWhat what) {
  if (what == car::TableWhat::spark) return "deg before top dead centre";
  return what == car::TableWhat::lambda_target ? "lambda" : "%";
}

std::string curve_text(car::CurveWhat what, const car::Curve& c, UnitSystem units) {
  std::string out;
  for (std::size_t i = 0; i < c.values.size(); ++i) {
    out += fmt::format("  {:>14}  {}\n", c.axis.format_point(i, units),
                       car::format_value(c.values[i], car::unit_of(what), units));
  }
  return out;
}

}  // namespace

std::string calibration_text(const car::Calibration& c, UnitSystem units) {
  std::string out;
  for (const auto& [what, s] : c.tables) {
    out += fmt::format("\n{}, {}:\n", words_for(what), unit_name(what)) + story(c, what) + "\n" +
           grid_text(s.grid, units, [&, w = what, &surface = s](std::size_t ix, std::size_t iy) {
             return cell(w, surface.node(ix, iy));
           });
  }
  for (const auto& [what, curve] : c.curves) {
    out += fmt::format("\n{}, over {}:\n", car::label_of(what), car::label_of(curve.axis.kind())) +
           story(c, what) + curve_text(what, curve, units);
  }
  if (!c.settings.empty()) out += "\nsettings:\n";
  for (const auto& [what, value] : c.settings) {
    out += fmt::format("  {:34} {}\n", car::label_of(what),
                       car::format_value(value, car::unit_of(what), units, 4));
    if (const auto words = story(c, what); !words.empty()) out += "    " + words;
  }
  return out;
}

}  // namespace fuelwright::service
