// What differs between two revisions; an earlier one in force again.
#include <fmt/format.h>

#include <cmath>

#include "service/difference_words.h"
#include "service/service.h"

namespace fuelwright::service {
namespace {

std::string place(const car::Grid& grid, const car::NodeDifference& d, UnitSystem units) {
  return fmt::format("{}, {}", grid.x.format_point(d.ix, units), grid.y.format_point(d.iy, units));
}

}  // namespace

const char* words_for(car::TableWhat what) {
  switch (what) {
    case car::TableWhat::ve:
      return "VE";
    case car::TableWhat::lambda_target:
      return "the lambda target";
    case car::TableWhat::correction:
      return "the correction";
    case car::TableWhat::spark:
      return "the spark";
  }
  broken_contract("a table of the list", __FILE__, __LINE__);
}

std::string in_words(const car::TableDifference& d, UnitSystem units) {
  const std::string name = words_for(d.what);
  if (!d.before) return name + ": a new table";
  if (!d.after) return name + ": the table is gone";
  const bool mixture = d.what == car::TableWhat::lambda_target;
  const bool spark = d.what == car::TableWhat::spark;
  const auto by = [&](const car::NodeDifference& n) {
    return spark ? fmt::format("{:.1f} deg", std::abs(n.change()))
                 : fmt::format("{:.1f} %", 100 * std::abs(n.share()));
  };
  std::string out = fmt::format("{}: {} of {} nodes", name, d.changed, d.before->grid.size());
  if (d.other_axes) out += d.changed == 0 ? ", other axes" : ", read off from other axes";
  if (d.largest_rise) {
    out += fmt::format(", up to {} {} at {}", by(*d.largest_rise),
                       mixture ? "leaner"
                       : spark ? "more"
                               : "more fuel",
                       place(d.grid(), *d.largest_rise, units));
  }
  if (d.largest_fall) {
    out += fmt::format("{} up to {} {} at {}", d.largest_rise ? " and" : ",", by(*d.largest_fall),
                       mixture ? "richer"
                       : spark ? "less"
                               : "less fuel",
                       place(d.grid(), *d.largest_fall, units));
  }
  return out;
}

std::string in_words(const car::CurveDifference& d, UnitSystem units) {
  const std::string name = car::label_of(d.what);
  if (!d.before) return name + ": a new curve";
  if (!d.after) return name + ": the curve is gone";
  std::string out = fmt::format("{}: {} of {} points", name, d.changed, d.before->values.size());
  if (d.other_axis) out += d.changed == 0 ? ", other breakpoints" : ", read off from others";
  if (!d.largest) return out;
  const car::ValueUnit unit = car::unit_of(d.what);
  return out + fmt::format(", most at {} ({} before, {} now)",
                           d.before->axis.format_point(d.largest->i, units),
                           car::format_value(d.largest->before, unit, units),
                           car::format_value(d.largest->after, unit, units));
}

std::string in_words(const car::SettingDifference& d, UnitSystem units) {
  const car::ValueUnit unit = car::unit_of(d.what);
  const auto said = [&](const std::optional<double>& v) {
    return v ? car::format_value(*v, unit, units, 4) : std::string("none");
  };
  return fmt::format("{}: {} before, {} now", car::label_of(d.what), said(d.before), said(d.after));
}

Result<CompareReply> compare(const CompareRequest& request) {
  FW_TRY(Job job, Job::open(request.job, Access::read));
  CompareReply reply;
  reply.from = request.from;
  reply.to = request.to;
  FW_TRY(reply.units, job.units());
  FW_TRY(const car::Revision from, job.revision(request.from));
  FW_TRY(const car::Revision to, job.revision(request.to));
  reply.tables = car::differences(from.calibration, to.calibration);
  reply.curves = car::curve_differences(from.calibration, to.calibration);
  reply.settings = car::setting_differences(from.calibration, to.calibration);
  std::string what;
  const auto add = [&](const auto& differences) {
    for (const auto& d : differences) what += (what.empty() ? "" : "; ") + in_words(d, reply.units);
  };
  add(reply.tables);
  add(reply.curves);
  add(reply.settings);
  reply.sentence = what.empty() ? fmt::format("Revisions {} and {} hold the same tables.",
                                              from.number, to.number)
                                : fmt::format("Revision {} differs from revision {} in {}.",
                                              to.number, from.number, what);
  return reply;
}

Result<RevertReply> revert(const RevertRequest& request) {
  FW_TRY(Job job, Job::open(request.job, Access::write));
  FW_TRY(const auto before, job.number_in_force());
  FW_CHECK(job.set_in_force(request.revision, {request.who.name, request.who.when, request.why}));
  RevertReply reply;
  reply.revision = request.revision;
  reply.before = before.value_or(request.revision);
  reply.sentence = fmt::format(
      "Revision {} is in force again in place of revision {}, which is kept: load its table into "
      "the "
      "unit and clear the unit's own corrections before the next drive.",
      reply.revision, reply.before);
  return reply;
}

}  // namespace fuelwright::service
