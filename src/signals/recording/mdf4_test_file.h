/// MDF 4 files for tests, put together block by block from the standard's layouts and sharing
/// nothing with our reader or writer.
#pragma once

#include <zlib.h>

#include <bit>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace fuelwright::signals::mdf_test {

/// The low bytes of a number, least first.
inline std::string le(std::uint64_t v, int bytes) {
  std::string out;
  for (int i = 0; i < bytes; ++i) out += static_cast<char>(v >> (8 * i));
  return out;
}
inline std::string f64(double v) { return le(std::bit_cast<std::uint64_t>(v), 8); }
inline std::string f32(float v) { return le(std::bit_cast<std::uint32_t>(v), 4); }
/// "80 0C" -> two bytes.
inline std::string hex(std::string_view digits) {
  std::string out;
  int half = -1;
  for (const char c : digits) {
    if (c == ' ') continue;
    const int v = c <= '9' ? c - '0' : c - 'A' + 10;
    if (half >= 0) out += static_cast<char>(half * 16 + v);
    half = half >= 0 ? -1 : v;
  }
  return out;
}

struct Cn {
  std::string name;
  std::string unit;
  int type = 0;
  int sync = 0;
  int data_type = 0;
  int bit_offset = 0;
  std::uint64_t byte = 0;
  std::uint64_t bits = 0;
  std::uint64_t flags = 0;
  std::uint64_t invalid_bit = 0;
  std::uint64_t conversion = 0;   ///< offset of a CC block
  std::uint64_t signal_data = 0;  ///< offset of an SD block
};

/// Time as f64 seconds in the first eight bytes.
inline Cn time_master() {
  Cn c{"t", "s", 2, 1, 4};
  c.bits = 64;
  return c;
}
inline Cn field(const char* name, const char* unit, int data_type, std::uint64_t byte,
                std::uint64_t bits, std::uint64_t conversion = 0) {
  Cn c{name, unit, 0, 0, data_type};
  c.byte = byte;
  c.bits = bits;
  c.conversion = conversion;
  return c;
}

/// A file that grows block by block. HD stands at 64; FH is there; data groups are appended.
class TestFile {
 public:
  explicit TestFile(std::string_view id = "MDF     ", std::uint64_t unfinished = 0) {
    bytes = std::string(id) + "4.10    test    " + le(0, 4) + le(410, 2);
    bytes.resize(60, '\0');
    bytes += le(unfinished, 2) + le(0, 2);
    block("HD", std::vector<std::uint64_t>(6),
          le(1'700'000'000'000'000'000, 8) + std::string(24, '\0'));
    const auto comment = text("<FHcomment><TX>test</TX></FHcomment>", "MD");
    set_link(64, 1, block("FH", {0, comment}, std::string(16, '\0')));
  }

  std::uint64_t block(const char* id, const std::vector<std::uint64_t>& links,
                      const std::string& data) {
    bytes.resize((bytes.size() + 7) / 8 * 8, '\0');
    const std::uint64_t at = bytes.size();
    bytes += std::string("##") + id + le(0, 4) + le(24 + 8 * links.size() + data.size(), 8) +
             le(links.size(), 8);
    for (const auto l : links) bytes += le(l, 8);
    bytes += data;
    return at;
  }
  std::uint64_t text(const std::string& words, const char* id = "TX") {
    std::string data = words + '\0';
    data.resize((data.size() + 7) / 8 * 8, '\0');
    return words.empty() ? 0 : block(id, {}, data);
  }
  void set_link(std::uint64_t at, std::size_t i, std::uint64_t to) {
    bytes.replace(at + 24 + 8 * i, 8, le(to, 8));
  }
  std::uint64_t conversion(int type, const std::vector<double>& values,
                           const std::vector<std::uint64_t>& refs = {}, const char* unit = "") {
    std::vector<std::uint64_t> links{0, text(unit), 0, 0};
    links.insert(links.end(), refs.begin(), refs.end());
    std::string data = le(static_cast<std::uint64_t>(type), 1) + le(0, 3) + le(refs.size(), 2) +
                       le(values.size(), 2) + f64(0) + f64(0);
    for (const double v : values) data += f64(v);
    return block("CC", links, data);
  }
  std::uint64_t channel(const Cn& c, std::uint64_t next) {
    const auto name = text(c.name);
    const auto unit = text(c.unit);
    const auto one = [](int v) { return le(static_cast<std::uint64_t>(v), 1); };
    return block("CN", {next, 0, name, 0, c.conversion, c.signal_data, unit, 0},
                 one(c.type) + one(c.sync) + one(c.data_type) + one(c.bit_offset) + le(c.byte, 4) +
                     le(c.bits, 4) + le(c.flags, 4) + le(c.invalid_bit, 4) +
                     std::string(4 + 48, '\0'));
  }
  /// A channel group; its next one must be made before it.
  std::uint64_t group(const std::vector<Cn>& channels, std::uint64_t cycles, std::uint64_t width,
                      const char* name = "", std::uint64_t record_id = 0, std::uint64_t next = 0,
                      std::uint64_t invalid = 0, std::uint64_t flags = 0) {
    std::uint64_t cn = 0;
    for (auto c = channels.rbegin(); c != channels.rend(); ++c) cn = channel(*c, cn);
    const auto named = text(name);
    return block(
        "CG", {next, cn, named, 0, 0, 0},
        le(record_id, 8) + le(cycles, 8) + le(flags, 2) + le(0, 6) + le(width, 4) + le(invalid, 4));
  }
  /// A data group behind those that are there.
  std::uint64_t data_group(std::uint64_t cg, std::uint64_t data, std::uint64_t id_bytes = 0) {
    const auto dg = block("DG", {0, cg, data, 0}, le(id_bytes, 8));
    set_link(last_ == 0 ? 64 : last_, 0, dg);
    last_ = dg;
    return dg;
  }
  std::uint64_t zipped(const std::string& original, int method, std::uint64_t param,
                       const std::string& stored) {
    auto size = compressBound(static_cast<uLong>(stored.size()));
    std::string out(size, '\0');
    compress(reinterpret_cast<Bytef*>(out.data()), &size,
             reinterpret_cast<const Bytef*>(stored.data()), static_cast<uLong>(stored.size()));
    out.resize(size);
    return block("DZ", {},
                 "DT" + le(static_cast<std::uint64_t>(method), 1) + le(0, 1) + le(param, 4) +
                     le(original.size(), 8) + le(size, 8) + out);
  }

  std::string bytes;

 private:
  std::uint64_t last_ = 0;
};

/// Four records of time f64, n u16 x 0.25 rpm, lambda f32: the bytes of a file that two independent
/// readers agreed on.
inline std::string four_records() {
  return hex(
      "0000000000000000 800C 0000803F"
      "7B14AE47E17A843F E40C 48E17A3F"
      "7B14AE47E17A943F 480D 3333733F"
      "B81E85EB51B89E3F AC0D 6666663F");
}
inline constexpr std::uint64_t kRecordWidth = 14;

enum class Packed { plain, zipped, transposed, list, cut_in_records, unfinished };

inline std::string small_file(Packed packed = Packed::plain) {
  const bool open = packed == Packed::unfinished;
  TestFile f(open ? "UnFinMF " : "MDF     ", open ? 5 : 0);
  const auto quarter = f.conversion(1, {0.0, 0.25});
  const auto cg =
      f.group({time_master(), field("n", "rpm", 0, 8, 16, quarter), field("lambda", "", 4, 10, 32)},
              open ? 0 : 4, kRecordWidth);
  const std::string records = four_records();
  if (open) {
    const auto dg = f.data_group(cg, 0);
    f.set_link(dg, 2, f.block("DT", {}, ""));
    f.bytes += records;
    return f.bytes;
  }
  std::uint64_t data = 0;
  if (packed == Packed::plain) data = f.block("DT", {}, records);
  if (packed == Packed::zipped) data = f.zipped(records, 0, 0, records);
  if (packed == Packed::transposed) {
    std::string columns;
    for (std::size_t k = 0; k < kRecordWidth; ++k) {
      for (std::size_t i = 0; i < 4; ++i) columns += records[i * kRecordWidth + k];
    }
    data = f.zipped(records, 1, kRecordWidth, columns);
  }
  if (packed == Packed::list || packed == Packed::cut_in_records) {
    // 20 bytes cut the second record; lengths one by one, then a second list of equal lengths.
    const auto a = f.block("DT", {}, records.substr(0, 20));
    const auto b = f.zipped(records.substr(20, 20), 0, 0, records.substr(20, 20));
    const auto c = f.block("DT", {}, records.substr(40));
    const auto second = f.block("DL", {0, c}, le(0, 4) + le(1, 4) + le(40, 8));
    data = f.block("DL", {second, a, b}, le(0, 4) + le(2, 4) + le(0, 8) + le(20, 8));
    if (packed == Packed::list) data = f.block("HL", {data}, le(0, 8));
  }
  f.data_group(cg, data);
  return f.bytes;
}

/// The record bytes of a file on which two independent readers agreed: engine speed and coolant at
/// different times in one run of records.
inline std::string unsorted_file() {
  TestFile f;
  const auto milli = f.conversion(1, {0, 1e-3});
  const auto quarter = f.conversion(1, {0, 0.25});
  const auto minus_40 = f.conversion(1, {-40, 1});
  Cn t = field("t", "s", 0, 0, 32, milli);
  t.type = 2;
  t.sync = 1;
  const auto clt = f.group({t, field("clt", "degC", 0, 4, 8, minus_40)}, 2, 5, "", 2);
  const auto n = f.group({t, field("n", "rpm", 0, 4, 16, quarter)}, 3, 6, "", 1, clt);
  const auto data = f.block("DT", {},
                            hex("01 00000000 800C 02 05000000 78 01 0A000000 A80C"
                                "01 14000000 D00C 02 19000000 79"));
  f.data_group(n, data, 1);
  return f.bytes;
}

/// Words of any length, validity bits, ranges, tables, bits, big-endian numbers.
inline std::string rich_file() {
  TestFile f;
  const auto sd = f.block("SD", {}, le(4, 4) + "12.5" + le(3, 4) + "n/a");
  Cn words = field("RPM", "rpm", 7, 8, 64);
  words.type = 1;
  words.signal_data = sd;
  Cn bits = field("gear", "", 0, 16, 3,
                  f.conversion(8, {0, 0, 1, 6, 7, 7},
                               {f.text("0"), f.conversion(1, {0, 1}), 0, f.text("error")}));
  bits.bit_offset = 2;
  Cn valid = field("MAP", "kPa", 1, 17, 16, f.conversion(2, {0, 1, 0, 0, 0, 100}));
  valid.flags = 2;
  const Cn table = field("CLT", "degC", 2, 16, 8, f.conversion(4, {-100, -40, 0, 20, 100, 120}));
  std::string records;
  for (int i = 0; i < 2; ++i) {
    records += f64(i) + le(i == 0 ? 0 : 8, 8) + hex("B6 2710") + le(static_cast<unsigned>(i), 1);
  }
  f.data_group(f.group({time_master(), words, bits, valid, table}, 2, 19, "engine", 0, 0, 1),
               f.block("DT", {}, records));
  return f.bytes;
}

/// Where a fuzzer starts from.
struct Seed {
  std::string name;
  std::string bytes;
  bool honest = true;
};
inline std::vector<Seed> seeds() {
  std::string loop = small_file();
  const std::size_t dg = loop.find("##DG");
  loop.replace(dg + 24, 8, le(dg, 8));
  return {{"plain.mf4", small_file()},
          {"zipped.mf4", small_file(Packed::zipped)},
          {"transposed.mf4", small_file(Packed::transposed)},
          {"list.mf4", small_file(Packed::list)},
          {"cut_in_records.mf4", small_file(Packed::cut_in_records)},
          {"unfinished.mf4", small_file(Packed::unfinished)},
          {"unsorted.mf4", unsorted_file()},
          {"rich.mf4", rich_file()},
          {"loop.mf4", loop, false},
          {"torn.mf4", small_file().substr(0, 700), false}};
}

}  // namespace fuelwright::signals::mdf_test
