// What differs between two revisions; an earlier one in force again.
#include <fmt/format.h>

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
  }
  broken_contract("a table of the list", __FILE__, __LINE__);
}

std::string in_words(const car::TableDifference& d, UnitSystem units) {
  const std::string name = words_for(d.what);
  if (!d.before) return name + ": a new table";
  if (!d.after) return name + ": the table is gone";
  const bool mixture = d.what == car::TableWhat::lambda_target;
  std::string out = fmt::format("{}: {} of {} nodes", name, d.changed, d.before->grid.size());
  if (d.other_axes) out += d.changed == 0 ? ", other axes" : ", read off from other axes";
  if (d.largest_rise) {
    out += fmt::format(", up to {:.1f} % {} at {}", 100 * d.largest_rise->share(),
                       mixture ? "leaner" : "more fuel", place(d.grid(), *d.largest_rise, units));
  }
  if (d.largest_fall) {
    out += fmt::format("{} up to {:.1f} % {} at {}", d.largest_rise ? " and" : ",",
                       -100 * d.largest_fall->share(), mixture ? "richer" : "less fuel",
                       place(d.grid(), *d.largest_fall, units));
  }
  return out;
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
  if (reply.tables.empty()) {
    reply.sentence =
        fmt::format("Revisions {} and {} hold the same tables.", from.number, to.number);
    return reply;
  }
  reply.sentence = fmt::format("Revision {} differs from revision {} in", to.number, from.number);
  for (std::size_t i = 0; i < reply.tables.size(); ++i) {
    reply.sentence += (i == 0 ? " " : "; ") + in_words(reply.tables[i], reply.units);
  }
  reply.sentence += ".";
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
