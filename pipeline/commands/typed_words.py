"""What people call the commands and options of this program, in several languages, and what kind of value each takes.

From memory and common practice. A word stands once; one that could be two commands is left out.
"""

from __future__ import annotations

HELP = (
    "help", "?", "/?", "/h", "-?", "-help", "--?", "/help", "--hilfe", "--aide", "--ayuda", "hilfe", "aide", "ayuda",
    "aiuto", "ajuda", "hjälp", "hjelp", "hjælp", "apua", "pomoc", "pomoč", "hulp", "man", "usage", "commands", "-H",
)  # fmt: skip
VERSION = ("-V", "-v", "version", "-version", "--ver", "ver")
# What people call an option, without accents, by its own name; of a station's figures `keys_said` knows more.
CALLED = {
    "--call": "callsign mycall call-sign rufzeichen indicatif indicativo kutsu znak znacka anropssignal kallesignal "
    "nominativo roepletters",
    "--dish-diameter-m": "antena antenne antenn antenni anten espejo specchio lautanen spegel parabol czasza dish "
    "diameter dish-diameter dish-size antenna reflector dish-m d dia ant size",
    "--power-w": "power watts watt pwr tx-power output-power w p pow power-watts",
    "--noise-figure-db": "nf noise noise-figure rauschzahl rauschen stojtal brusfaktor bruit facteur-de-bruit ruido "
    "rumore ruisgetal kohinaluku szum sum",
    "--locator": "loc grid qth square maidenhead qth-locator wwl l pos position grade gridsquare cuadricula carre "
    "lokator rutekode ruutu",
    "--latitude-deg": "lat latitude",
    "--longitude-deg": "lon lng long longitude",
    "--height-m": "height alt altitude asl",
    "--email": "mail e-mail address email-address",
    "--time-zone": "tz timezone zone zeitzone fuseau fuso huso tijdzone tidszon aikavyohyke strefa pasmo",
    "--polarization": "pol polarisation polarity",
    "--gain-dbi": "gain",
    "--operator": "op ops operator-name person operateur operador operatore operatoor operatör nom",
    "--language": "lang sprache langue idioma sprak kieli jezyk jazyk taal lingua",
    "--name": "site site-name sitename standort lieu lugar luogo plats paikka miejsce misto nombre nome nom",
    "--mode": "modes",
    "--out": "output dir folder outdir out-dir o output-dir directory outfolder target dest destination ausgabe "
    "ordner dossier carpeta cartella pasta map mapp mappe kansio katalog slozka sortie salida uscita saida ziel "
    "destino",
    "--season": "file config input season-file f stations s seasonfile cfg conf i stations-dir c saison temporada "
    "stagione seizoen sasong kausi sezon sezona datei fichier archivo arquivo fil tiedosto plik soubor bestand",
    "--month": "m months period monat mois mes mese mnd when for date maand manad maned kuukausi miesiac mesic "
    "honap mesec manader",
    "--months": "count length long month number n how-many monate meses mesi maanden manader kuukautta miesiecy "
    "mesicu anzahl cuantos combien quanti",
    "--from": "start since begin from-date after-date von desde depuis starting ab a-partir-de dal vanaf fran fra "
    "alkaen od a-partir",
    "--no-pdf": "nopdf no-pdfs without-pdf html skip-pdf no-print pdf-off fast quick only-html without-pdfs "
    "ohne-pdf sans-pdf sin-pdf senza-pdf sem-pdf zonder-pdf utan-pdf uten-pdf bez-pdf kein-pdf",
    "--what-if": "try whatif set change with what test versuch wenn essai si prueba prova se forsok",
    "--hold": "keep threshold min-gain",
    "--yes": "y force confirm go send really do ok write save now senden envoyer enviar invia send-now sofort jetzt",
    "--zone": "tz timezone clock time-zone by whose uhr horloge reloj orologio relogio klok klocka kello zegar "
    "hodiny wessen",
    "--take": "accept agree yes confirm ok note apply save annehmen accepter aceptar accetta aceitar acceptera "
    "hyvaksy przyjmij prijmout",
    "--by-hand": "byhand hand manual manually told by-phone von-hand per-hand a-la-main a-mano manuell handmatig "
    "kasin recznie rucne",
    "--way": "how by via channel method wie weg moyen medio mezzo meio satt kanal",
    "--after": "from since later at start rest nach apres despues dopo depois na efter etter jalkeen po ab a-partir-de",
    "--drop": "without skip remove exclude not minus except no ohne sans sin senza sem zonder utan uten uden ilman "
    "bez absent fehlt weglassen",
    "--json": "as-json js",
    "--apply": "yes learn write save take accept anwenden ubernehmen appliquer aplicar applica tillampa kayta "
    "zastosuj pouzit auswerten lernen apprendre aprender imparare",
    "--unlogged": "missing others rest not-logged unlogged-as fehlende manquants restantes mancanti",
    "--instead": "instead-of slot for replace replaces move label letter statt anstatt a-la-place en-lugar invece "
    "em-vez istallet",
    "--station": "call of partner site who for callsign estacion station stazione estacao asema stanice stacja stasjon",
    "--heights": "height horizon horisont horizont horizonte orizzonte skyline points elevations h obstacles hohen "
    "hoehen hauteurs alturas altezze hoogtes hojder korkeudet wysokosci vysky",
    "--dial-offset": "dial azimuth-offset az-offset azoffset az azimuth offset skala cadran cuadrante quadrante",
    "--inclinometer-offset": "inclinometer elevation-offset el-offset eloffset el elevation inclino tilt",
    "--azimuth-offset": "az azimuth az-offset azoffset",
    "--elevation-offset": "el elevation el-offset eloffset",
    "--remarks": "bemaerkning merknad remark note notes comment comments text memo bemerkung remarque nota "
    "observacion osservazione opmerking anmarkning huomautus uwaga poznamka",
    "--peaked": "peak peak-up best max maximum spitze pic pico picco topp",
    "--band": "b freq frequency",
    "--shown": "only just nur seulement solo bara alleen tylko "
    "partner call station to for show status tell look view preview zeige montrer mostrar mostra visa "
    "nayta pokaz ukaz",
    "--again": "resend repeat retry nochmal encore otravez ancora denovo igen uudelleen ponownie znovu",
    "--arrived": "received delivered",
    "--put-away": "put-off done settled archive ignore dismiss weglegen erledigt ranger archiver archivar archiviare",
    "--all": "a everything old alle tous todos tutti todas alla kaikki wszystkie vse",
    "--demo": "example sample try-out beispiel exemple ejemplo esempio exemplo exempel",
}
# An example for each option that wants a value.
VALUES = {
    "--month": "2027-03", "--season": "stations/season.yaml", "--out": "out", "--from": "2027-03-14",
    "--what-if": "QF4LUM.power_w=100", "--hold": "0.2", "--after": "23:10Z", "--drop": "QF4LUM", "--zone": "partner",
    "--locator": "GF25cl", "--dish-diameter-m": "1.8", "--power-w": "40", "--months": "12", "--instead": "A",
    "--noise-figure-db": "0.8", "--heights": "300=6,305=7.5", "--station": "QF4LUM", "--way": "chat",
    "--unlogged": "failed", "--dial-offset": "3.4", "--inclinometer-offset": "-0.2", "--azimuth-offset": "0.4",
    "--elevation-offset": "0.2", "--time-zone": "Europe/Helsinki", "--band": "3cm", "--height-m": "120",
    "--latitude-deg": "60.9", "--longitude-deg": "23.4", "--gain-dbi": "38", "--shown": "QF4LUM", "--again": "QF4LUM",
    "--arrived": "QF4LUM", "--language": "de", "--mode": "Q65", "--polarization": "rotatable",
}  # fmt: skip
# What people type for a command.
COMMANDS = {
    "plan": "calendar schedule month run start windows agenda calculate compute sked skeds calc planning planner "
    "make generate season forecast predict planen plane kalender berechnen rechnen berechne monat calendrier "
    "planifier calculer mois calendario planificar calcular calcula mes planear planejar calendário pianifica "
    "calcola calcolare mese planera kalendern planlegg suunnittele kalenteri laske kalendarz planuj oblicz naplánuj "
    "plán kalendář spočítej naptár terv план календарь",
    "year": "outlook weekends annual jahr jahre jahresplan wochenenden année annee an año ano anno år vuosi rok "
    "jaar év год",
    "new": "init create setup begin neu anlegen nouveau nouvelle créer nuevo crear novo nova criar nuovo nuova crea "
    "ny nytt uusi nowy nový nieuw új",
    "add": "partner insert append hinzufügen hinzu hinzufuegen zufügen ajouter ajoute agregar añadir anadir "
    "adicionar aggiungi aggiungere lägg-till tilføj lisää dodaj přidat přidej toevoegen",
    "check": "list show stations validate test lint verify status info prüfen pruefen prüfe liste anzeigen zeige "
    "stationen vérifier verifier montrer comprobar revisar verificar mostrar lista controlla verifica mostra "
    "kontrollera visa tarkista näytä sprawdź pokaż zkontroluj ukaž view print partners ls",
    "letters": "mail mails email emails invite invitations message messages write letter briefe brief schreiben "
    "einladungen lettres lettre courrier écrire cartas carta correo escribir lettere lettera scrivi brev kirjeet "
    "kirje listy dopisy brieven levelek",
    "send": "deliver post submit senden sende schicken abschicken versenden envoyer envoie enviar envía envia invia "
    "inviare skicka lähetä wyślij odeslat odešli verzenden sturen küldés",
    "answer": "reply confirm accept note antwort antworte bestätigen réponse repondre répondre respuesta responder "
    "contestar resposta risposta rispondi svar svara vastaus odpowiedź odpověď antwoord",
    "replies": "inbox answers responses antworten réponses reponses respuestas respostas risposte svaren vastaukset "
    "odpowiedzi odpovědi mailbox",
    "night": "tonight sheets sheet tonights nacht nuit noche noite notte natten natt yö noc éjszaka blätter",
    "measure": "measurement noise sun reading echo measured messen messung miss mesure mesurer medir medida "
    "medición misura misurare mätning mät mittaus mittaa pomiar zmierz měření změř meting meten sunnoise",
    "review": "log logs adif after learn evaluate compare auswerten auswertung logbuch bilan journal revue repaso "
    "análisis registro rivedi analisi granskning analyysi przegląd vyhodnocení statistics stats report results",
    "import": "csv load roster table importieren einlesen importer importar importa importera tuo importuj "
    "importovat importeren read-table",
    "explain": "link budget why detail details linkbudget snr signal erklären erkläre erklaeren warum expliquer "
    "explique explicar explica pourquoi spiega spiegare förklara selitä wyjaśnij vysvětli uitleg",
    "propose": "proposal suggest vorschlag vorschlagen proposer proposition proponer propuesta propor proposta "
    "proponi föreslå foreslå ehdota zaproponuj navrhni voorstel counter offer",
    "need": "needs required require requirements brauche braucht bedarf nötig besoin faut necesito necesita precisa "
    "serve behov tarvitsee potrzeba potřeba nodig",
    "sites": "site places locations standorte orte emplacements lieux sitios lugares siti luoghi platser paikat "
    "miejsca místa",
    "survey": "skyline horizon heights obstacles horizont horizonte orizzonte aufnahme relevé taivaanranta",
    "weather": "rain clouds wetter regen météo meteo pluie clima lluvia tiempo chuva tempo pioggia väder vær vejr "
    "sää pogoda počasí weer időjárás climate",
}
CALL, PATH, TEXT, INSTANT, TIME_SAID, DATE, CLOCK, MONTH = (
    "call", "path", "text", "instant", "time_said", "date", "clock", "month",
)  # fmt: skip
SOURCE, FIGURE, WHOLE, ANSWERS, CHANGE, HEIGHTS, LOCATOR, ZONE, WHOSE, WORD, FOLDER, SEASON, MAIL, BAND, AXES = (
    "source", "figure", "whole", "answers", "change", "heights", "locator", "zone", "whose", "word", "folder",
    "season", "mail", "band", "axes",
)  # fmt: skip
# The arguments of each command by kind, in order.
ARGUMENTS: dict[str, tuple[str, ...]] = {
    "new": (FOLDER,), "add": (CALL,), "import": (PATH,), "check": (CALL,), "send": (CALL,), "answer": (CALL, ANSWERS),
    "replies": (PATH,), "night": (DATE,), "measure": (INSTANT, SOURCE, FIGURE), "review": (PATH,),
    "explain": (CALL, INSTANT), "propose": (CALL, TIME_SAID), "need": (CALL,), "survey": (PATH,),
}  # fmt: skip
MANY = ("send", "review")
MAY_BE_LEFT_OUT = ("check", "send", "survey")
# The kind of an option's value; what is not here is a text.
OPTIONS: dict[str, str] = {
    "--month": MONTH, "--months": WHOLE, "--season": SEASON, "--out": FOLDER, "--from": DATE, "--what-if": CHANGE,
    "--drop": CALL, "--station": CALL, "--again": CALL, "--arrived": CALL, "--shown": CALL, "--call": CALL,
    "--zone": WHOSE, "--locator": LOCATOR, "--time-zone": ZONE, "--heights": HEIGHTS, "--email": MAIL, "--band": BAND,
    "--hold": FIGURE, "--azimuth-offset": FIGURE, "--elevation-offset": FIGURE, "--dial-offset": FIGURE,
    "--inclinometer-offset": AXES, "--height-m": FIGURE, "--dish-diameter-m": FIGURE, "--power-w": FIGURE,
    "--noise-figure-db": FIGURE, "--gain-dbi": FIGURE, "--latitude-deg": FIGURE, "--longitude-deg": FIGURE,
    "--way": WORD, "--unlogged": WORD, "--instead": WORD,
}  # fmt: skip
# Whose unit a figure has that has no key of a station's file by its option's name.
UNITS = {
    "--hold": "contacts_wanted", "--azimuth-offset": "azimuth_deg", "--elevation-offset": "elevation_deg",
    "--dial-offset": "azimuth_deg", "": "loss_db",
}  # fmt: skip
# What people call the words that an option takes.
CHOICES = {
    "--way": {
        "mail": "email e-mail post letter brief correo courriel",
        "chat": "whatsapp signal telegram messenger irc sms text discord",
        "telephone": "phone tel call telefon téléphone teléfono telefono called",
    },
    "--unlogged": {
        "failed": "fail nil lost incomplete unsuccessful no nothing notheard",
        "absent": "noshow no-show away missing not-there gone",
        "rained": "rain weather cancelled canceled storm wind qrt",
    },
    "--zone": {
        "partner": "his her their theirs partners partner's dx him them remote other you yours hun haar zijn hen "
        "ihr ihre sein seine leur leurs sua loro deras hans hendes hänen jego jej ich",
        "home": "me my mine own local us our here qth",
        "utc": "z gmt ut zulu",
    },
}
