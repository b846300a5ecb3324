// Nothing here is shared with the reader: an error made on one side must show on the other.
#include <fmt/format.h>
#include <zlib.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <initializer_list>

#include "base/contract.h"
#include "base/units/number.h"
#include "signals/recording/mdf4.h"

namespace fuelwright::signals {
namespace {

constexpr std::size_t kBlockOfRecords = std::size_t{4} << 20U;  // [bytes] before compression

void put(std::string& out, std::uint64_t value, int bytes) {
  for (int i = 0; i < bytes; ++i) out += static_cast<char>(value >> (8 * i) & 0xFFU);
}
void put_f64(std::string& out, double v) { put(out, std::bit_cast<std::uint64_t>(v), 8); }
void put_f32(std::string& out, double v) {
  put(out, std::bit_cast<std::uint32_t>(static_cast<float>(v)), 4);
}

// The file, block behind block; what a block names is written before it, except from HD.
class Blocks {
 public:
  std::uint64_t add(const char* id, const std::vector<std::uint64_t>& links,
                    const std::string& data) {
    while (bytes_.size() % 8 != 0) bytes_ += '\0';
    const std::uint64_t at = bytes_.size();
    bytes_ += "##";
    bytes_ += id;
    put(bytes_, 0, 4);
    put(bytes_, 24 + 8 * links.size() + data.size(), 8);
    put(bytes_, links.size(), 8);
    for (const std::uint64_t link : links) put(bytes_, link, 8);
    bytes_ += data;
    return at;
  }
  std::uint64_t text(const std::string& words, const char* id = "TX") {
    return words.empty() ? 0 : add(id, {}, words + '\0');
  }
  void set_link(std::uint64_t block, std::size_t link, std::uint64_t to) {
    std::string eight;
    put(eight, to, 8);
    bytes_.replace(static_cast<std::size_t>(block) + 24 + 8 * link, 8, eight);
  }
  std::string& bytes() { return bytes_; }

 private:
  std::string bytes_;
};

std::string identification() {
  std::string out = "MDF     4.10    fuelwrt ";
  put(out, 0, 4);
  put(out, 410, 2);
  out.resize(64, '\0');
  return out;
}

// The unit in which a channel's SI values are written, and how they get there.
struct Written {
  std::string unit;
  double factor = 1;
  double offset = 0;
};

Written unit_of_kind(Kind kind) {
  for (const char* symbol : {"m", "m2", "m3", "kg", "s", "Pa", "K", "rad", "m/s", "rpm", "kg/s",
                             "kg/m3", "W", "Nm", "V", "A"}) {
    const auto unit = find_unit(symbol, kind);
    if (unit && unit->factor == 1 && unit->offset == 0) return {symbol};
  }
  const UnitInfo shown = display_unit(kind, UnitSystem::metric);
  return {shown.symbol, shown.factor, shown.offset};
}

Written unit_of_channel(const Channel& c) {
  if (!c.converted) return {c.unit_found};
  switch (c.what) {
    case Quantity::lambda:
    case Quantity::target:
    case Quantity::commanded_ratio:
      return {"lambda"};
    default:
      break;
  }
  if (c.kind == Kind::ratio) return {"fraction"};
  if (c.kind == Kind::count) return {};
  return unit_of_kind(c.kind);
}

struct Field {
  const Channel* channel = nullptr;
  Written as;
  bool narrow = true;  // f32 holds every value
  bool gaps = false;
  std::size_t byte = 0;
  std::size_t invalid_bit = 0;

  double value(std::size_t row) const { return (channel->si[row] - as.offset) / as.factor; }
};

class Writer {
 public:
  Writer(const Recording& r, const Mdf4Options& options)
      : r_(r), options_(options), timed_(r.time_s.size() == r.rows && r.rows > 0) {}

  Mdf4Written write() {
    choose_rows();
    lay_out();
    file_.bytes() = identification();
    const std::uint64_t head = file_.add("HD", std::vector<std::uint64_t>(6), head_data());
    file_.set_link(head, 1, history());
    const std::uint64_t group = channel_group();
    const std::uint64_t data = record_blocks();
    std::string ids(8, '\0');
    file_.set_link(head, 0, file_.add("DG", {0, group, data, 0}, ids));
    out_.bytes = std::move(file_.bytes());
    return std::move(out_);
  }

 private:
  void choose_rows() {
    bool falls = false;
    double last = -HUGE_VAL;
    for (std::size_t i = 0; i < r_.rows; ++i) {
      if (timed_ && !std::isfinite(r_.time_s[i])) continue;
      rows_.push_back(i);
      if (!timed_) continue;
      falls = falls || r_.time_s[i] < last;
      last = r_.time_s[i];
    }
    if (const std::size_t lost = r_.rows - rows_.size(); lost > 0) {
      out_.warnings.push_back(fmt::format("{} rows have no time and were left out", lost));
    }
    if (falls) {
      out_.warnings.emplace_back(
          "time falls back between segments; MDF 4 wants it to rise, so "
          "other programs may refuse the file");
    }
  }

  void lay_out() {
    record_ = timed_ ? 8 : 0;
    for (const Channel& c : r_.channels) {
      if (timed_ && c.what == Quantity::time) continue;  // it is the master
      EXPECTS(c.si.size() == r_.rows);
      Field f{&c, unit_of_channel(c)};
      for (const std::size_t row : rows_) {
        const double v = f.value(row);
        f.gaps = f.gaps || !std::isfinite(v);
        f.narrow =
            f.narrow && (!std::isfinite(v) ||
                         (std::abs(v) < 1e38 && static_cast<double>(static_cast<float>(v)) == v));
      }
      f.byte = record_;
      record_ += f.narrow ? 4 : 8;
      if (f.gaps) f.invalid_bit = invalid_bits_++;
      fields_.push_back(std::move(f));
    }
  }

  std::string head_data() const {
    std::string d;
    put(d, options_.start_utc_ns, 8);
    put(d, 0, 8);  // zones, flags, class
    put(d, 0, 8);  // start angle
    put(d, 0, 8);  // start distance
    return d;
  }

  std::uint64_t history() {
    const std::uint64_t comment = file_.text(
        "<FHcomment><TX>exported</TX><tool_id>fuelwright</tool_id>"
        "<tool_vendor>fuelwright</tool_vendor><tool_version>1</tool_version></FHcomment>",
        "MD");
    std::string d;
    put(d, options_.start_utc_ns, 8);
    put(d, 0, 8);
    return file_.add("FH", {0, comment}, d);
  }

  // type 0 value, 2 master, 3 virtual master; sync 1 time, 4 index.
  std::uint64_t channel(std::uint64_t next, const std::string& name, const std::string& unit,
                        int type, int sync, const Field& f, std::size_t bits) {
    const std::uint64_t name_at = file_.text(name);
    const std::uint64_t unit_at = file_.text(unit);
    std::string d;
    put(d, static_cast<std::uint64_t>(type), 1);
    put(d, static_cast<std::uint64_t>(sync), 1);
    put(d, bits == 0 ? 0 : 4, 1);  // little-endian floating, an index is unsigned
    put(d, 0, 1);
    put(d, f.byte, 4);
    put(d, bits, 4);
    put(d, f.gaps ? 2 : 0, 4);
    put(d, f.invalid_bit, 4);
    put(d, 0, 4);        // precision, attachments
    d.resize(72, '\0');  // ranges and limits: not stated
    return file_.add("CN", {next, 0, name_at, 0, 0, 0, unit_at, 0}, d);
  }

  std::uint64_t channel_group() {
    std::uint64_t next = 0;
    for (auto f = fields_.rbegin(); f != fields_.rend(); ++f) {
      next = channel(next, f->channel->header, f->as.unit, 0, 0, *f, f->narrow ? 32 : 64);
    }
    next = timed_ ? channel(next, "time", "s", 2, 1, Field{}, 64)
                  : channel(next, "record", "", 3, 4, Field{}, 0);
    const std::uint64_t name = file_.text("recording");
    std::string d;
    put(d, 0, 8);
    put(d, rows_.size(), 8);
    put(d, 0, 8);  // flags, separator
    put(d, record_, 4);
    put(d, (invalid_bits_ + 7) / 8, 4);
    return file_.add("CG", {0, next, name, 0, 0, 0}, d);
  }

  void append_record(std::size_t row, std::string& out) const {
    std::string invalid((invalid_bits_ + 7) / 8, '\0');
    if (timed_) put_f64(out, r_.time_s[row]);
    for (const Field& f : fields_) {
      const double v = f.value(row);
      f.narrow ? put_f32(out, v) : put_f64(out, v);
      if (f.gaps && !std::isfinite(v)) {
        char& byte = invalid[f.invalid_bit / 8];
        byte = static_cast<char>(byte | 1 << f.invalid_bit % 8);
      }
    }
    out += invalid;
  }

  std::uint64_t record_blocks() {
    const std::size_t width = record_ + (invalid_bits_ + 7) / 8;
    std::string records;
    if (options_.packing == Mdf4Packing::plain) {
      records.reserve(width * rows_.size());
      for (const std::size_t row : rows_) append_record(row, records);
      return file_.add("DT", {}, records);
    }
    const std::size_t each =
        std::max<std::size_t>(1, kBlockOfRecords / std::max<std::size_t>(1, width));
    std::vector<std::uint64_t> links{0};
    for (std::size_t i = 0; i < rows_.size(); i += each) {
      records.clear();
      for (std::size_t k = i; k < std::min(rows_.size(), i + each); ++k) {
        append_record(rows_[k], records);
      }
      links.push_back(deflated(records, width));
    }
    std::string list;
    put(list, 1, 4);  // blocks of equal length, but the last
    put(list, links.size() - 1, 4);
    put(list, each * width, 8);
    std::string head;
    put(head, 1, 2);
    put(head, 1, 6);  // transposed and deflated
    return file_.add("HL", {file_.add("DL", links, list)}, head);
  }

  // Byte k of every record, then byte k + 1: neighbours are alike.
  std::uint64_t deflated(const std::string& records, std::size_t width) {
    const std::size_t n = width == 0 ? 0 : records.size() / width;
    std::string columns;
    columns.reserve(records.size());
    for (std::size_t k = 0; k < width; ++k) {
      for (std::size_t i = 0; i < n; ++i) columns += records[i * width + k];
    }
    auto size = compressBound(static_cast<uLong>(columns.size()));
    std::string packed(size, '\0');
    EXPECTS(compress2(reinterpret_cast<Bytef*>(packed.data()), &size,
                      reinterpret_cast<const Bytef*>(columns.data()),
                      static_cast<uLong>(columns.size()), Z_DEFAULT_COMPRESSION) == Z_OK);
    packed.resize(size);
    std::string d = "DT";
    put(d, 1, 2);
    put(d, width, 4);
    put(d, records.size(), 8);
    put(d, packed.size(), 8);
    return file_.add("DZ", {}, d + packed);
  }

  const Recording& r_;
  Mdf4Options options_;
  bool timed_;
  std::vector<std::size_t> rows_;
  std::vector<Field> fields_;
  std::size_t record_ = 0;
  std::size_t invalid_bits_ = 0;
  Blocks file_;
  Mdf4Written out_;
};

}  // namespace

Mdf4Written write_mdf4(const Recording& recording, const Mdf4Options& options) {
  return Writer(recording, options).write();
}

}  // namespace fuelwright::signals
