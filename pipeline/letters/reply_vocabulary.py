"""Words of an answer: yes, no, perhaps, and what adds nothing beside them, in the languages of letters.

English, German, French, Spanish, Portuguese, Italian and Japanese, from memory and unread by their speakers: what
comes out is only ever offered to the operator, beside the words themselves.
"""

from __future__ import annotations

import re

from pipeline.letters.reply_times import LATIN

YES, NO, PERHAPS = "yes", "no", "perhaps"
UNCLEAR = ""
# Word, expressions in Latin letters, and in Japanese or as signs; in lower case, accents kept. What stands first is
# taken first: "no problem" is a yes, "not sure" is no no.
EXPRESSIONS: tuple[tuple[str, str, str], ...] = (
    (
        YES,
        r"no problem(?:s|a)?|not a problem|kein problem|(?:pas|aucun) (?:de )?problème|sin problemas?"
        r"|no hay problema|sem problemas?|nessun problema|senza problemi",
        r"問題(?:ない|ありません|なし)",
    ),
    (
        PERHAPS,
        r"not (?:yet )?(?:sure|certain)|perhaps|maybe|possibly|probably|vielleicht|(?:noch )?nicht sicher|eventuell"
        r"|möglicherweise|wahrscheinlich|peut[- ]être|probablement|pas (?:encore )?sûre?|quizás?|tal vez"
        r"|probablemente|no estoy segur[oa]|talvez|provavelmente|não (?:tenho certeza|sei)|forse|probabilmente"
        r"|non sono sicur[oa]|non (?:lo )?so(?: ancora)?",
        r"たぶん|多分|もしかすると|未定|わかりません|分かりません",
    ),
    (
        NO,
        r"no good|too (?:early|late|soon|short)|zu (?:früh|spät|kurz)|trop (?:tôt|tard|court)"
        r"|(?:demasiado|muy) (?:temprano|tarde|pronto)|(?:cedo|tarde) demais|muito (?:cedo|tarde)"
        r"|troppo (?:presto|tardi)|no me (?:va|viene|conviene)(?: bien)?|no|nope|not|cannot|can['’]?t"
        r"|won['’]?t|isn['’]?t|don['’]?t|doesn['’]?t|unable|impossible|neither|nor|decline[ds]?"
        r"|nein|nicht|kein|keine|weder|unmöglich|abgesagt|ne (?:\w+ ){1,2}pas|non|impossibles?|pas|ni|imposible|não"
        r"|nao|nem|impossível|né|impossibile|verhindert|indisponible",
        r"参加でき(?:ません|ない)|いいえ|無理|不可能?|だめ|ダメ|駄目|ではありません|できません|出来ません|行けません|出られません"
        r"|できない|早すぎ(?:ます|る)?|遅すぎ(?:ます|る)?|難しい|厳しい|合いません"
        r"|都合が(?:悪い|つきません|合いません)|👎|✗|✘|❌|×|✕",
    ),
    (
        YES,
        r"yes|yep|ok|okay|confirm(?:ed)?|agreed?|accept(?:ed)?|(?:is|are) (?:fine|good|great|perfect)|fine|good|great"
        r"|perfect|possible|excellent|suits?(?: me)?|works?(?: for me)?"
        r"|ja|jawohl|passt|passen|einverstanden|zugesagt|bestätigt|gut|prima|gerne?|möglich|klappt|super"
        r"|geht(?= (?:klar|gut|bei mir)|$|,)|oui|d['’]accord|parfait|volontiers|bien|bon"
        r"|confirmée?s?|(?:me |m['’])?convien(?:t|nent)|ça (?:me )?va|sí|de acuerdo|vale|perfecto|posible"
        r"|confirmad[oa]s?|confirmo|me (?:van?|vienen?|convienen?)(?: bien)?|sim|de acordo|combinado|pode ser|perfeito"
        r"|possível|ótimo|dá|bom"
        r"|sì|va(?:nno)? bene|mi va|perfetto|possibile|volentieri|bene|ottimo|confermat[oa]|confermo",
        r"はい|了解|承知|大丈夫|可能|オーケー|お願いします|いいです|(?:参加)?できます|行けます|希望(?:します)?|👍|✓|✔|✅|○|◯",
    ),
)
PATTERNS = tuple(
    (word, re.compile(rf"(?<![{LATIN}])(?:{latin})(?![{LATIN}])|{japanese}")) for word, latin, japanese in EXPRESSIONS
)
# Without its accent this word means "if" as well: it is a yes where it stands for a whole sentence or a comma follows.
BARE_YES = re.compile(r"[Ss]i(?=\s*(?:,|$))")
# Around a letter or a time that stands alone these words add nothing.
FILLERS = """
slot slots option options please bitte svp s il vous plaît por favor per favore e and und et y the der die das
le la el las les los o für pour para for to zu à a i d prefer take nehme ich je prends prefiero prendo only
nur solo just thanks thank you danke merci gracias obrigado obrigada grazie at um om at às alle on am utc uhr z
monday tuesday wednesday thursday friday saturday sunday mon tue wed thu fri sat sun montag dienstag mittwoch
donnerstag freitag samstag sonntag lundi mardi mercredi jeudi vendredi samedi dimanche lunes martes miércoles
jueves viernes sábado domingo segunda terça quarta quinta sexta feira lunedì martedì mercoledì giovedì venerdì
sabato domenica march april may で を に は へ です
"""
FILLING = frozenset(FILLERS.split())
# Beside one letter alone they are a yes to it: it was asked whether it is better than another.
BETTER_WORDS = """
is s would be better best rather ist wäre besser lieber est serait mieux plutôt es sería mejor seria melhor è sarebbe
meglio preferisco prefiro のほうがいいです のほうが
"""
BETTER = frozenset(BETTER_WORDS.split())
# Around a word of an answer they add nothing; alone they are no answer.
NEUTRAL_WORDS = """
it it's that this me my i'm we us can could do does make made with very much so quite really well by time times date are
for of in be will yet about you but hi hello dear see soon then best regards
es mir mich uns dir ihnen bei ist sind sehr ganz wirklich kann können könnte auf den dem zur zum mit noch geht
termin termine termins zeit auch also too either klar sehr überhaupt gar dann bis viele grüße mfg doch ginge
ce cela ça c'est c est moi nous ne peux pouvons pourrai va horaire créneau date du tout bien très aussi au aux avec
eso esto mi nosotros puedo podemos puede va bien está esta hora fecha también con nos viene conviene del lo al
isso posso podemos pode hora data também com para mim nós está esta vai não serve consigo do da ao os as
questo mi me posso possiamo può va orario data anche con per noi è sono ci il lo gli al alla
unfortunately sadly sorry afraid leider malheureusement désolé désolée hélas lamentablemente desgraciadamente
infelizmente lamento purtroppo spiacente dispiace
"""
NEUTRAL = frozenset(NEUTRAL_WORDS.split())
KNOWN = FILLING | BETTER | NEUTRAL
# Between the words of Japanese.
PARTICLES = re.compile(r"でした|です|ます|なら|残念(?:ながら|ですが)|すみません|ので|のほうが|[はがをにでへもとのよね]")
# A letter beside one of these waits for its word; a yes does not go with it.
REGRET = re.compile(
    r"\b(?:unfortunately|sadly|sorry|afraid|leider|malheureusement|désolée?|hélas|lamentablemente|desgraciadamente"
    r"|infelizmente|lamento|purtroppo|spiacente|dispiace)\b|残念(?:ながら)?|すみません"
)
GREETING = re.compile(
    r"\s*(?:hi|hello|hallo|hey|dear|liebe[rs]?|guten|moin|servus|bonjour|bonsoir|salut|cher|chère|hola|buen[oa]s|estimad[oa]"
    r"|querid[oa]|olá|car[oa]|ciao|buongiorno|buonasera|good (?:morning|evening|day)|best|regards|kind|viele grüße"
    r"|grüße|mfg|vy|73|88|saludos|abraços|cordiali|saluti|cordialement|see you|looking forward|bis dann|à bientôt"
    r"|freue mich|thanks|thank you|vielen dank|danke|merci|muchas gracias|gracias|obrigad[oa]|grazie"
    r"|ありがとう|こんにちは|よろしく)(?![^\W\d_])",
    re.IGNORECASE,
)
# Greetings and farewells with what looks like a letter or an answer.
FAREWELL = re.compile(
    r"\b(?:A (?:bientôt|plus|presto|domani|demain)|(?:(?:have )?a )?(?:good|great|nice) (?:morning|afternoon"
    r"|evening|night|day|weekend|luck)|guten? (?:morgen|tag|abend|nacht)|bom dia|bonne? (?:soirée|journée|nuit|chance)"
    r"|bien (?:cordialement|à (?:toi|vous))|all the best)\b",
    re.IGNORECASE,
)
# Without a letter these may be said of anything.
FAINT = re.compile(
    r"\b(?:good|great|fine|perfect|possible|gut|prima|möglich|parfait|bien|bon|perfecto|posible|perfeito|possível|bom"
    r"|super|excellent|ótimo|ottimo|perfetto|possibile|bene)\b"
)
# What hangs on something, or takes half of it back, beside an answer.
DOUBT = re.compile(
    r"\b(?:if|unless|provided|depends?|depending|subject to|until|instead|wait|cancel\w*|away|busy|change\w*"
    r"|wenn|falls|sofern|solange|außer|kommt darauf|hängt|stattdessen|verreist|unterwegs|sauf|à condition|dépend"
    r"|absente?|occupée?|si|siempre que|salvo|depende|ocupad[oa]|fuera|caso|desde que|se|dipende|purché|impegnat[oa]"
    r"|not only|nicht nur|pas seulement|no sólo|no solo|não só|non solo|may|might)\b"
    r"|もし|場合|次第|だけでなく|忙しい|留守",
    re.IGNORECASE,
)
ALL_BUT = re.compile(
    r"\b(?:any\w*|every\w*|all|none|nothing|not|cannot|alles|todo|tutto|tudo|tout) (?:but|mais|mas|menos)\b", re.I
)
# One thing is held against another, or is not yet decided, or is thanked for: that is for people to read.
COMPARED = re.compile(
    r"\b(?:than|instead of|except|statt|anstatt|anstelle|außer|au lieu|en vez|en lugar|em vez|al posto|menos|tranne"
    r"|exceto|excepto|sauf|not yet(?! sure| certain)|noch nicht(?! sicher)|pas encore(?! sûr)"
    r"|todavía no|ainda não|non ancora|(?:thanks|thank you|danke|dank|merci|gracias|grazie|obrigad[oa])"
    r" (?:for|für|pour|por|per|pela))\b|より|代わり|以外"
)
# So is one of two letters in a sentence with one of these.
PREFERRED = re.compile(
    r"\b(?:better|rather|prefer\w*|besser|lieber|bevorzuge|mieux|plutôt|préfère|mejor|melhor|meglio|prefiero|prefiro"
    r"|preferisco)\b|ほうが"
)
# One of several, and no letter says which.
CHOSEN = re.compile(
    r"\b(?:first|1st|second|2nd|third|3rd|last|latter|former|other|another|later|earlier|either|whichever|any of|one of"
    r"|(?:erst|zweit|dritt|letzt|ander|später|früher)e[rsnm]?|später|früher|premi(?:er|ère)|deuxième|seconde?|troisième"
    r"|derni(?:er|ère)|autre|plus (?:tard|tôt)|primer[oa]?|segund[oa]|tercer[oa]?|últim[oa]|otr[oa]|más tarde"
    r"|más temprano|primeir[oa]|terceir[oa]|outr[oa]|mais (?:tarde|cedo)|prim[oa]|second[oa]|terz[oa]|ultim[oa]"
    r"|altr[oa]|più tardi)\b|最初|つ目|後の|前の|別の|どちらか|片方|もう一つ|ほかの|他の"
)
# All slots at once, so many as wait.
BOTH = re.compile(
    r"\b(?:both|beide[ns]?|les deux|amb[oa]s|(?:los|las) dos|(?:os|as) dois|as duas|entramb[ie]"
    r"|tutt[ie] e due)\b|両方|どちらも"
)
ALL = re.compile(r"\b(?:all|everything|alle[ns]?|tous|toutes|tod[oa]s|tutt[ie])\b|全部|すべて")
BUT = re.compile(r"\b(?:but|aber|sondern|mais|pero|sino|mas|ma|però|however)\b|しかし|ですが", re.IGNORECASE)


def without_bare_yes(text: str) -> str:
    """A text without the yes that has lost its accent."""
    found = BARE_YES.match(text)
    return text[found.end() :] if found else text


def without_words(text: str) -> str:
    """A text without the words of an answer."""
    for _, pattern in PATTERNS:
        text = pattern.sub(" ", text)
    return text
