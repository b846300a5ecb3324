// Replies about tables brought in, compared and reverted.
#include <fmt/format.h>

#include <set>
#include <vector>

#include "service/difference_words.h"
#include "service/report/grid.h"
#include "service/report/text.h"

namespace fuelwright::service {
namespace {

// The breakpoints at which something changes.
std::vector<std::size_t> changed_along(const car::TableDifference& d, bool x) {
  std::set<std::size_t> out;
  for (std::size_t iy = 0; iy < d.grid().y.size(); ++iy) {
    for (std::size_t ix = 0; ix < d.grid().x.size(); ++ix) {
      if (d.before->node(ix, iy) != d.after->node(ix, iy)) out.insert(x ? ix : iy);
    }
  }
  return {out.begin(), out.end()};
}

car::Axis only(const car::Axis& axis, const std::vector<std::size_t>& wanted) {
  std::vector<double> points;
  for (const std::size_t i : wanted) points.push_back(axis[i]);
  auto out = car::Axis::make(axis.kind(), std::move(points));
  EXPECTS(out.ok());
  return *out;
}

// Changes in %, of the rows and columns where something changes; nodes that stay are points.
std::string difference_text(const car::TableDifference& d, UnitSystem units) {
  if (!d.before || !d.after || d.changed == 0) return "";
  const auto xs = changed_along(d, true);
  const auto ys = changed_along(d, false);
  const bool by_share = car::changes_by_share(d.what);
  return fmt::format("\n{}, change in {}{}:\n\n", words_for(d.what), by_share ? "%" : "deg",
                     xs.size() * ys.size() == d.grid().size()
                         ? ""
                         : "; rows and columns that are not shown stay") +
         grid_text({only(d.grid().x, xs), only(d.grid().y, ys)}, units,
                   [&](std::size_t ix, std::size_t iy) {
                     const double before = d.before->node(xs[ix], ys[iy]);
                     const double after = d.after->node(xs[ix], ys[iy]);
                     if (before == after) return std::string("\xC2\xB7");
                     return fmt::format("{:+.1f}",
                                        by_share ? 100 * (after / before - 1) : after - before);
                   });
}

std::string amount(double v, car::TableWhat what) {
  return what == car::TableWhat::lambda_target ? fmt::format("{:.3f} lambda", v)
         : what == car::TableWhat::spark       ? fmt::format("{:.1f} deg", v)
                                               : fmt::format("{:.2f} %", 100 * v);
}

}  // namespace

std::string text(const BringInReply& r) {
  std::string out = r.sentence + "\n\n";
  for (const BroughtTable& t : r.tables) {
    out += fmt::format("{}: {} of {} nodes came; {}.\n", words_for(t.difference.what), t.nodes,
                       t.difference.grid().size(), t.understood);
    if (t.axes == car::AxesThatCame::other) {
      out += fmt::format("  Interpolation loses up to {} of what came.\n",
                         amount(t.largest_loss, t.difference.what));
    }
  }
  for (const BroughtTable& t : r.tables) out += difference_text(t.difference, r.units);
  return out;
}

std::string text(const CompareReply& r) {
  std::string out = r.sentence + "\n";
  for (const car::TableDifference& d : r.tables) out += difference_text(d, r.units);
  return out;
}

std::string text(const RevertReply& r) { return r.sentence + "\n"; }

}  // namespace fuelwright::service
